#include "stars/line_votes.h"

#include "base/units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>

enum { FEWEST_VOTES = 12 };

static int *votes_at(const struct line_votes *votes, int angle, double distance)
{
    return votes->vote + (ptrdiff_t)angle * votes->distances + (int)lround(distance) - votes->least;
}

static void vote(struct line_votes *votes, int x, int y, int weight)
{
    for (int angle = 0; angle < LINE_ANGLES; angle++) {
        *votes_at(votes, angle, x * votes->cosine[angle] + y * votes->sine[angle]) += weight;
    }
}

int line_votes_make(struct line_votes *votes, const struct block_grid *grid, struct error *err)
{
    votes->least = -grid->width;
    votes->distances = grid->width + (int)hypot(grid->width, grid->height) + 2;
    votes->vote = calloc((size_t)votes->distances * LINE_ANGLES, sizeof *votes->vote);
    if (!votes->vote) {
        return error_memory(err);
    }
    for (int angle = 0; angle < LINE_ANGLES; angle++) {
        votes->cosine[angle] = cos(angle * PI / LINE_ANGLES);
        votes->sine[angle] = sin(angle * PI / LINE_ANGLES);
    }
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            if (block_stands(grid, x, y)) {
                vote(votes, x, y, 1);
            }
        }
    }
    return 0;
}

bool grid_line_clip(double *first, double *last, const struct grid_line *line,
                    const struct block_grid *grid)
{
    const double start[2] = {line->distance * line->cosine, line->distance * line->sine};
    const double step[2] = {-line->sine, line->cosine};
    const double most[2] = {grid->width - 1, grid->height - 1};
    *first = -1e9;
    *last = 1e9;
    for (int i = 0; i < 2; i++) {
        if (fabs(step[i]) < 1e-9) {
            if (start[i] < 0 || start[i] > most[i]) {
                return false;
            }
            continue;
        }
        double a = -start[i] / step[i], b = (most[i] - start[i]) / step[i];
        *first = fmax(*first, fmin(a, b));
        *last = fmin(*last, fmax(a, b));
    }
    return *first < *last;
}

/* Lines so near to each other are the same. */
static void drop_votes(struct line_votes *votes, int at)
{
    const int near = 3;
    int angle = at / votes->distances, distance = at % votes->distances;
    for (int a = angle - near; a <= angle + near; a++) {
        for (int d = distance - near; d <= distance + near; d++) {
            if (a >= 0 && a < LINE_ANGLES && d >= 0 && d < votes->distances) {
                votes->vote[a * votes->distances + d] = 0;
            }
        }
    }
}

bool line_votes_next(struct grid_line *line, struct line_votes *votes,
                     const struct block_grid *grid)
{
    double share = (double)grid->standing / grid->count, best = 5, first, last;
    int found = -1;
    for (int i = 0; i < LINE_ANGLES * votes->distances; i++) {
        if (votes->vote[i] < FEWEST_VOTES) {
            continue;
        }
        int angle = i / votes->distances;
        struct grid_line here = {votes->cosine[angle], votes->sine[angle],
                                 i % votes->distances + votes->least};
        double expected = grid_line_clip(&first, &last, &here, grid) ? share * (last - first) : 0;
        double excess = (votes->vote[i] - expected) / sqrt(expected + 1);
        if (excess > best) {
            best = excess;
            found = i;
            *line = here;
        }
    }
    if (found >= 0) {
        drop_votes(votes, found);
    }
    return found >= 0;
}

/* Steps of one block along a line. */

void line_votes_take_back(struct line_votes *votes, const struct block_grid *grid,
                          const struct grid_line *line)
{
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            double off = x * line->cosine + y * line->sine - line->distance;
            if (fabs(off) < LINE_NEAR && block_stands(grid, x, y)) {
                vote(votes, x, y, -1);
            }
        }
    }
}

void line_votes_free(struct line_votes *votes)
{
    free(votes->vote);
    votes->vote = NULL;
}
