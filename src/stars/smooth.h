/* stars/smooth.h: the matched filter of a faint star on even noise. */
#ifndef ALIDADE_STARS_SMOOTH_H
#define ALIDADE_STARS_SMOOTH_H

#include "base/error.h"
#include "image/frame.h"
#include "stars/profile.h"

/* Correlates the plane with a Gaussian of this profile, which sums to 1. Pixels beyond the edge
 * repeat the edge; pixels without data count as the last good one of their row, and come out as
 * NaN. out: width * height of the plane. highest: of them all; minus infinity if there is no data.
 * Same bits on any number of threads. ERROR_MEMORY only.
 *
 * A Gaussian in any direction is two passes in one dimension, the second along a slanted line:
 * Geusebroek, Smeulders & van de Weijer 2003, IEEE Trans. Image Processing 12, 938. */
int smooth_plane(float *out, float *highest, const struct plane *plane, const struct profile *p,
                 int threads, struct error *err);

#endif
