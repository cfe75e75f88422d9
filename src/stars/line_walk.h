/* stars/line_walk.h: how far along a line of a grid the blocks stand out. */
#ifndef ALIDADE_STARS_LINE_WALK_H
#define ALIDADE_STARS_LINE_WALK_H

#include "stars/block_grid.h"
#include "stars/line_votes.h"

/* A part of a line, in steps of one block. */
struct line_walk {
    struct grid_line line;
    double start; /* along the line */
    int steps;
    int hits; /* steps at which a block stands out */
};

/* The run of a line in which hits outweigh misses the most, the line straightened to the blocks of
 * the run by least squares. No steps: there is none. */
void line_walk_find(struct line_walk *walk, const struct grid_line *line,
                    const struct block_grid *grid);

/* Where a step is, so many blocks beside the line. */
void line_walk_place(double *x, double *y, const struct line_walk *walk, int step, double beside);

/* The highest block there, within slack blocks across the line; NAN if there is none. */
double line_walk_value(const struct line_walk *walk, const struct block_grid *grid, int step,
                       double beside, double slack);

#endif
