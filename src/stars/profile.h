/* stars/profile.h: the blur that all stars of a frame share, and the filter made from it. */
#ifndef ALIDADE_STARS_PROFILE_H
#define ALIDADE_STARS_PROFILE_H

#include "base/error.h"
#include "image/frame.h"

/* Second moments of a star's light about its centroid, plane pixels squared; a streak has its
 * length in them too. xx, yy > 0 and xx*yy > xy*xy. */
struct profile {
    double xx, xy, yy;
};

/* What is assumed where a frame shows no star to measure. */
struct profile profile_usual(void);

/* Keeps widths within what stars of single exposures and stacks have: at least one pixel's own
 * spread, at most a few pixels, so that a wrong measurement can't make the filter slow or blind. */
struct profile profile_clamp(struct profile p);

/* rms widths along the long and the short axis, plane pixels. */
void profile_widths(const struct profile *p, double *longer, double *shorter);

/* Light of a unit star at (dx, dy) from its centroid, as if it were Gaussian: sums to 1. */
double profile_value(const struct profile *p, double dx, double dy);

/* Correlates the part of the plane from (left, top), out_width x out_height, with a Gaussian of this
 * profile (the matched filter of a faint star on even noise) that sums to 1. Pixels beyond the edge
 * repeat the edge, NaN count as the last good value of their row and come out as NaN. Gaussian of
 * any direction by two one-dimensional passes: Geusebroek, Smeulders & van de Weijer 2003, IEEE
 * Trans. Image Processing 12, 938. ERROR_MEMORY only. */
int profile_smooth(float *out, const struct plane *plane, int left, int top, int out_width,
                   int out_height, const struct profile *p, struct error *err);

#endif
