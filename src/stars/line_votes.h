/* stars/line_votes.h: straight lines among the blocks that stand out of the sky.
 *
 * Each block votes for all lines through it (Hough's transform: Duda & Hart 1972, Commun. ACM 15,
 * 11). */
#ifndef ALIDADE_STARS_LINE_VOTES_H
#define ALIDADE_STARS_LINE_VOTES_H

#include "base/error.h"
#include "stars/block_grid.h"

#include <stdbool.h>

enum { LINE_ANGLES = 360, LINE_NEAR = 8 };

/* x cosine + y sine = distance, in blocks. */
struct grid_line {
    double cosine, sine, distance;
};

/* The part of a line that crosses the grid, from *first to *last along (-sine, cosine); false if
 * none. */
bool grid_line_clip(double *first, double *last, const struct grid_line *line,
                    const struct block_grid *grid);

struct grid_place {
    int x, y;
};

/* A line that has enough votes. */
struct line_candidate {
    int at;          /* its vote */
    double expected; /* votes that blocks spread evenly would give it */
};

/* Votes for lines of each angle and distance. Starts as all zeros; free with line_votes_free. */
struct line_votes {
    int *vote;            /* LINE_ANGLES rows of distances */
    int distances, least; /* the first is of this distance */
    double cosine[LINE_ANGLES], sine[LINE_ANGLES];
    struct grid_place *place; /* room for all blocks that stand out */
    struct line_candidate *candidate;
    int candidates;
};

/* Lets the blocks vote. ERROR_MEMORY. */
int line_votes_make(struct line_votes *votes, const struct block_grid *grid, struct error *err);
void line_votes_free(struct line_votes *votes);

/* The line with the most votes beyond what blocks spread evenly would give it; it loses them, so
 * that another comes next. False if none has enough to be looked at. */
bool line_votes_next(struct grid_line *line, struct line_votes *votes);

/* Neither the blocks of the line nor those within LINE_NEAR of it, such as of an aeroplane's other
 * lamp, vote for another any more. */
void line_votes_take_back(struct line_votes *votes, const struct block_grid *grid,
                          const struct grid_line *line);

#endif
