/* stars/smooth.h: the matched filter of a faint star on even noise. */
#ifndef ALIDADE_STARS_SMOOTH_H
#define ALIDADE_STARS_SMOOTH_H

#include "base/error.h"
#include "image/frame.h"
#include "stars/profile.h"

/* Correlates the plane with a Gaussian of this profile, which sums to 1. Pixels beyond the edge
 * repeat the edge; pixels without data count as the last good one of their row, and come out as
 * NaN. out: width * height of the plane. highest: of each SMOOTH_BLOCK pixels of a row, the last of
 * which may have fewer, smooth_blocks(width) * height; minus infinity where there is no data. Same
 * bits on any number of threads. ERROR_MEMORY only.
 *
 * A Gaussian in any direction is two passes in one dimension, the second along a slanted line:
 * Geusebroek, Smeulders & van de Weijer 2003, IEEE Trans. Image Processing 12, 938. */
enum { SMOOTH_BLOCK = 32 };

/* How many a row has. */
int smooth_blocks(int width);

int smooth_plane(float *out, float *highest, const struct plane *plane, const struct profile *p,
                 int threads, struct error *err);

#endif
