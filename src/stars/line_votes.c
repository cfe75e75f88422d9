#include "stars/line_votes.h"

#include "base/units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>

enum { FEWEST_VOTES = 12 };

/* Votes over those of chance, in their usual scatter, that make a line worth a look. */
static const double least_excess = 5;

/* Angle by angle, since a row of distances stays in the fastest memory. */
static void vote(struct line_votes *votes, int places, int weight)
{
    for (int angle = 0; angle < LINE_ANGLES; angle++) {
        int *row = votes->vote + (ptrdiff_t)angle * votes->distances;
        double cosine = votes->cosine[angle], sine = votes->sine[angle];
        for (int i = 0; i < places; i++) {
            /* Never below 0, so that cutting it off rounds it down. */
            double distance = votes->place[i].x * cosine + votes->place[i].y * sine - votes->least;
            row[(int)(distance + 0.5)] += weight;
        }
    }
}

/* Lists the blocks that stand out: all, or those near a line; returns how many. */
static int list_places(struct line_votes *votes, const struct block_grid *grid,
                       const struct grid_line *line)
{
    int n = 0;
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            if ((double)grid->value[y * grid->width + x] > BLOCK_STANDS &&
                (!line || fabs(x * line->cosine + y * line->sine - line->distance) < LINE_NEAR)) {
                votes->place[n++] = (struct grid_place){x, y};
            }
        }
    }
    return n;
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

static struct grid_line line_of(const struct line_votes *votes, int at)
{
    int angle = at / votes->distances;
    return (struct grid_line){votes->cosine[angle], votes->sine[angle],
                              at % votes->distances + votes->least};
}

/* How many votes there are beyond the expected, in their usual scatter. */
static double excess_of(const struct line_votes *votes, const struct line_candidate *candidate)
{
    return (votes->vote[candidate->at] - candidate->expected) / sqrt(candidate->expected + 1);
}

/* Lists the lines that have enough votes; no other will, since votes only grow fewer. */
static int list_candidates(struct line_votes *votes, const struct block_grid *grid,
                           struct error *err)
{
    int cells = LINE_ANGLES * votes->distances, many = 0;
    double share = (double)grid->standing / grid->count, first, last;
    for (int i = 0; i < cells; i++) {
        many += votes->vote[i] >= FEWEST_VOTES;
    }
    votes->candidate = malloc(((size_t)many + 1) * sizeof *votes->candidate);
    if (!votes->candidate) {
        return error_memory(err);
    }
    for (int i = 0; i < cells; i++) {
        if (votes->vote[i] >= FEWEST_VOTES) {
            struct grid_line line = line_of(votes, i);
            struct line_candidate *next = &votes->candidate[votes->candidates];
            next->at = i;
            next->expected =
                grid_line_clip(&first, &last, &line, grid) ? share * (last - first) : 0;
            votes->candidates += excess_of(votes, next) > least_excess;
        }
    }
    return 0;
}

int line_votes_make(struct line_votes *votes, const struct block_grid *grid, struct error *err)
{
    votes->least = -grid->width;
    votes->distances = grid->width + (int)hypot(grid->width, grid->height) + 2;
    votes->vote = calloc((size_t)votes->distances * LINE_ANGLES, sizeof *votes->vote);
    votes->place = malloc(((size_t)grid->standing + 1) * sizeof *votes->place);
    if (!votes->vote || !votes->place) {
        return error_memory(err);
    }
    for (int angle = 0; angle < LINE_ANGLES; angle++) {
        votes->cosine[angle] = cos(angle * PI / LINE_ANGLES);
        votes->sine[angle] = sin(angle * PI / LINE_ANGLES);
    }
    vote(votes, list_places(votes, grid, NULL), 1);
    return list_candidates(votes, grid, err);
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

bool line_votes_next(struct grid_line *line, struct line_votes *votes)
{
    double best = least_excess;
    int found = -1;
    for (int i = 0; i < votes->candidates; i++) {
        const struct line_candidate *candidate = &votes->candidate[i];
        double excess = excess_of(votes, candidate);
        if (votes->vote[candidate->at] >= FEWEST_VOTES && excess > best) {
            best = excess;
            found = candidate->at;
        }
    }
    if (found >= 0) {
        *line = line_of(votes, found);
        drop_votes(votes, found);
    }
    return found >= 0;
}

void line_votes_take_back(struct line_votes *votes, const struct block_grid *grid,
                          const struct grid_line *line)
{
    vote(votes, list_places(votes, grid, line), -1);
}

void line_votes_free(struct line_votes *votes)
{
    free(votes->vote);
    free(votes->place);
    free(votes->candidate);
    *votes = (struct line_votes){0};
}
