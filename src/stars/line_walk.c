#include "stars/line_walk.h"

#include "base/least_squares.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

static const double missed = 2; /* hits that a step without one outweighs */

void line_walk_place(double *x, double *y, const struct line_walk *walk, int step, double beside)
{
    const struct grid_line *line = &walk->line;
    double along = walk->start + step, out = line->distance + beside;
    *x = out * line->cosine - along * line->sine;
    *y = out * line->sine + along * line->cosine;
}

double line_walk_value(const struct line_walk *walk, const struct block_grid *grid, int step,
                       double beside, double slack)
{
    double most = (double)NAN;
    for (int side = -1; side <= 1; side++) {
        double x, y;
        line_walk_place(&x, &y, walk, step, beside + side * slack);
        most = fmax(most, block_at(grid, x, y)); /* which passes over NAN */
    }
    return most;
}

/* Shortens a walk over the whole line to the run in which hits outweigh misses the most. */
static void find_run(struct line_walk *walk, const struct block_grid *grid, double slack)
{
    double first, last, sum = 0, best = 0;
    int from = 0, hits = 0;
    struct line_walk run = {.line = walk->line};
    if (grid_line_clip(&first, &last, &walk->line, grid)) {
        walk->start = first;
        for (int step = 0; step <= (int)(last - first); step++) {
            bool hit = line_walk_value(walk, grid, step, 0, slack) > BLOCK_STANDS;
            sum += hit ? 1 : -missed;
            hits += hit;
            if (sum <= 0) {
                sum = 0;
                from = step + 1;
                hits = 0;
            } else if (sum > best) {
                best = sum;
                run.start = first + from;
                run.steps = step + 1 - from;
                run.hits = hits;
            }
        }
    }
    *walk = run;
}

/* Lays the line through the blocks of its run, by their distances from it. */
static void straighten(struct line_walk *walk, const struct block_grid *grid)
{
    struct least_squares fit = {.n = 2};
    double found[2]; /* the distance where the run starts, and by how much it grows with a step */
    for (int step = 0; step < walk->steps; step++) {
        for (int beside = -1; beside <= 1; beside++) {
            double x, y;
            line_walk_place(&x, &y, walk, step, beside);
            if (block_stands(grid, x, y)) {
                const double row[2] = {1, step};
                double off = floor(x + 0.5) * walk->line.cosine + floor(y + 0.5) * walk->line.sine -
                             walk->line.distance;
                least_squares_add(&fit, row, off, 1);
            }
        }
    }
    if (!least_squares_solve(found, NULL, &fit)) {
        return;
    }
    double slope = found[1], offset = found[0] - slope * walk->start;
    /* A point of the line and its new direction tell the rest. */
    struct grid_line *line = &walk->line;
    double x = (line->distance + offset) * line->cosine, y = (line->distance + offset) * line->sine;
    double angle = atan2(line->sine, line->cosine) - atan(slope);
    line->cosine = cos(angle);
    line->sine = sin(angle);
    line->distance = x * line->cosine + y * line->sine;
}

void line_walk_find(struct line_walk *walk, const struct grid_line *line,
                    const struct block_grid *grid)
{
    *walk = (struct line_walk){.line = *line};
    for (int turn = 0; turn < 4; turn++) { /* the straighter the longer */
        find_run(walk, grid, 1);
        straighten(walk, grid);
    }
    find_run(walk, grid, 0.5);
}
