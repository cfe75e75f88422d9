/* stars/aperture.h: the whole light of a star, summed. */
#ifndef ALIDADE_STARS_APERTURE_H
#define ALIDADE_STARS_APERTURE_H

#include "image/frame.h"

/* Light within radius px of the line from (x - dx/2, y - dy/2) to (x + dx/2, y + dy/2), px of the
 * picture, over the median of a ring around it that begins 2 px farther out and holds at least as
 * many pixels. Unit: the plane's values times pixels of the picture. NaN if it reaches over the
 * edge of the picture or into pixels without data, or ground (may be NULL) if it is not known. */
double aperture_light(double *ground, const struct plane *plane, double x, double y, double dx,
                      double dy, double radius);

#endif
