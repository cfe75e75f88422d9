/* stars/block_grid.h: a frame reduced to some hundred blocks a side, for what is larger than stars.
 */
#ifndef ALIDADE_STARS_BLOCK_GRID_H
#define ALIDADE_STARS_BLOCK_GRID_H

#include "base/error.h"
#include "image/frame.h"

#include <stdbool.h>

enum { BLOCK_SIDE = 256 }; /* blocks along the plane's longer side, most */

#define BLOCK_STANDS 3.5 /* noises above the sky at which a block stands out */

/* Blocks of block x block pixels of the plane, in units of their noise; NaN without data. Starts as
 * all zeros; free with block_grid_free. */
struct block_grid {
    int width, height, block;
    float *level;        /* as in the plane */
    float *value;        /* above the sky around it */
    int standing, count; /* those that stand out; those with data */
};

/* A plane too small to tell its sky from what stands in it has no block. ERROR_MEMORY only. */
int block_grid_make(struct block_grid *grid, const struct plane *plane, struct error *err);
void block_grid_free(struct block_grid *grid);

/* The value and the level at a place, in blocks from the middle of the top left one; NaN outside.
 */
double block_at(const struct block_grid *grid, double x, double y);
double block_level_at(const struct block_grid *grid, double x, double y);

/* Whether the block there stands out of the sky; none outside does. */
bool block_stands(const struct block_grid *grid, double x, double y);

#endif
