/* stars/gaussian.h: a Gaussian on a grid of pixels, the same to the bit on every machine. */
#ifndef ALIDADE_STARS_GAUSSIAN_H
#define ALIDADE_STARS_GAUSSIAN_H

#include "stars/profile.h"

enum { GAUSSIAN_MOST_REACH = 24, GAUSSIAN_MOST = 49 * 49 };

/* Pixels left to left + columns - 1, upper to upper + rows - 1; value has columns values a row. */
struct gaussian_grid {
    int left, upper, columns, rows;
    double value[GAUSSIAN_MOST];
};

/* profile_value at each pixel for a star at (x, y), which must lie within the grid; reach_x,
 * reach_y: pixels to each side of the nearest, GAUSSIAN_MOST_REACH at most. Relative error below
 * 1e-11. */
void gaussian_fill(struct gaussian_grid *grid, const struct profile *p, double x, double y,
                   int reach_x, int reach_y);

#endif
