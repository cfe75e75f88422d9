/* stars/streak.c: lines across the sky.
 *
 * The plane is reduced to about 256 blocks along its longer side: a line's light against the noise
 * stays as it was, since both grow with the side of a block, and the work becomes small. Blocks
 * that stand out of the sky around them vote for all lines through them (Hough's transform: Duda &
 * Hart 1972, Commun. ACM 15, 11). Lines with more votes than their length lets expect are walked
 * along. What is found has to be filled too well for chance: of n steps with h hits, at a share p
 * of blocks that stand out, the chance is below exp(-n KL(h/n || p)) (Chernoff 1952, Ann. Math.
 * Statist. 23, 493). */
#include "stars/streak.h"

#include "base/least_squares.h"
#include "base/median.h"
#include "base/units.h"
#include "stars/block_grid.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { ANGLES = 360, TRIES = 24, SHORTEST = 24, FEWEST_VOTES = 12, NEAR = 8 };

static const double crowded = 0.2;   /* share of blocks that stand out, most */
static const double filled = 0.75;   /* share of the steps along a line, least */
static const double sure = 30;       /* minus the logarithm of the chance, least */
static const double thin = 0.25;     /* light beside a line against that on it, most */
static const double uneven = 0.33;   /* usual difference from its usual light, most, of that */
static const double missed = 2;      /* hits that a step without one outweighs */
static const double axis_blocks = 3; /* by which a line leaves a row or column, least */

/* x cos + y sin = distance, in blocks. */
struct line {
    double cosine, sine, distance;
};

/* Votes for lines of each angle and distance. */
struct votes {
    int *vote;            /* ANGLES rows of distances */
    int distances, least; /* the first is of this distance */
    double cosine[ANGLES], sine[ANGLES];
};

static int *votes_at(const struct votes *votes, int angle, double distance)
{
    return votes->vote + (ptrdiff_t)angle * votes->distances + (int)lround(distance) - votes->least;
}

static void vote(struct votes *votes, int x, int y, int weight)
{
    for (int angle = 0; angle < ANGLES; angle++) {
        *votes_at(votes, angle, x * votes->cosine[angle] + y * votes->sine[angle]) += weight;
    }
}

static int votes_make(struct votes *votes, const struct block_grid *grid, struct error *err)
{
    votes->least = -grid->width;
    votes->distances = grid->width + (int)hypot(grid->width, grid->height) + 2;
    votes->vote = calloc((size_t)votes->distances * ANGLES, sizeof *votes->vote);
    if (!votes->vote) {
        return error_memory(err);
    }
    for (int angle = 0; angle < ANGLES; angle++) {
        votes->cosine[angle] = cos(angle * PI / ANGLES);
        votes->sine[angle] = sin(angle * PI / ANGLES);
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

/* The part of a line that crosses the grid, from *first to *last along (-sine, cosine); false if
 * none. */
static bool clip(double *first, double *last, const struct line *line,
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
static void drop_votes(struct votes *votes, int at)
{
    const int near = 3;
    int angle = at / votes->distances, distance = at % votes->distances;
    for (int a = angle - near; a <= angle + near; a++) {
        for (int d = distance - near; d <= distance + near; d++) {
            if (a >= 0 && a < ANGLES && d >= 0 && d < votes->distances) {
                votes->vote[a * votes->distances + d] = 0;
            }
        }
    }
}

/* The line with the most votes beyond what blocks spread evenly would give it; it loses them, so
 * that another comes next. False if none has enough to be looked at. */
static bool next_line(struct line *line, struct votes *votes, const struct block_grid *grid)
{
    double share = (double)grid->standing / grid->count, best = 5, first, last;
    int found = -1;
    for (int i = 0; i < ANGLES * votes->distances; i++) {
        if (votes->vote[i] < FEWEST_VOTES) {
            continue;
        }
        int angle = i / votes->distances;
        struct line here = {votes->cosine[angle], votes->sine[angle],
                            i % votes->distances + votes->least};
        double expected = clip(&first, &last, &here, grid) ? share * (last - first) : 0;
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
struct walk {
    struct line line;
    double start; /* along the line */
    int steps;    /* of the run that is filled best */
    int hits;
};

static void walk_place(double *x, double *y, const struct walk *walk, int step, double beside)
{
    const struct line *line = &walk->line;
    double along = walk->start + step, out = line->distance + beside;
    *x = out * line->cosine - along * line->sine;
    *y = out * line->sine + along * line->cosine;
}

/* The highest block there, within so much of the line. */
static double walk_value(const struct walk *walk, const struct block_grid *grid, int step,
                         double beside, double slack)
{
    double most = (double)NAN;
    for (int side = -1; side <= 1; side++) {
        double x, y;
        walk_place(&x, &y, walk, step, beside + side * slack);
        most = fmax(most, block_at(grid, x, y)); /* which passes over NAN */
    }
    return most;
}

/* Shortens a walk over the whole line to the run in which hits outweigh misses the most. */
static void find_run(struct walk *walk, const struct block_grid *grid, double slack)
{
    double first, last, sum = 0, best = 0;
    int from = 0, hits = 0;
    struct walk run = {.line = walk->line};
    if (clip(&first, &last, &walk->line, grid)) {
        walk->start = first;
        for (int step = 0; step <= (int)(last - first); step++) {
            bool hit = walk_value(walk, grid, step, 0, slack) > BLOCK_STANDS;
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
static void straighten(struct walk *walk, const struct block_grid *grid)
{
    struct least_squares fit = {.n = 2};
    double found[2]; /* the distance where the run starts, and by how much it grows with a step */
    for (int step = 0; step < walk->steps; step++) {
        for (int beside = -1; beside <= 1; beside++) {
            double x, y;
            walk_place(&x, &y, walk, step, beside);
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
    struct line *line = &walk->line;
    double x = (line->distance + offset) * line->cosine, y = (line->distance + offset) * line->sine;
    double angle = atan2(line->sine, line->cosine) - atan(slope);
    line->cosine = cos(angle);
    line->sine = sin(angle);
    line->distance = x * line->cosine + y * line->sine;
}

/* How many blocks in a row stand out along the line's direction once one does, the run left out:
 * trails of stars make neighbours alike. */
static double usual_run(const struct walk *walk, const struct block_grid *grid)
{
    int standing = 0, pairs = 0;
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            if (block_stands(grid, x, y)) {
                standing++;
                pairs += block_stands(grid, x - walk->line.sine, y + walk->line.cosine);
            }
        }
    }
    double alike = (pairs - walk->hits + 1.0) / fmax(standing - walk->hits, 1);
    return 1 / (1 - fmin(fmax(alike, 0), 0.95));
}

static bool is_no_chance(const struct walk *walk, const struct block_grid *grid)
{
    double others = fmax(grid->standing - walk->hits, 1) / grid->count;
    double p = fmin(2 * others, 0.9); /* two blocks are looked at, as a rule */
    double share = fmin((double)walk->hits / walk->steps, 1 - 1e-6);
    double gain = share * log(share / p) + (1 - share) * log((1 - share) / (1 - p));
    return share >= filled && share > p && walk->steps * gain / usual_run(walk, grid) >= sure;
}

/* Median along the run, at so many blocks to one side; NAN if most of it is outside. */
static double light_along(const struct walk *walk, const struct block_grid *grid, double beside)
{
    double value[2 * BLOCK_SIDE];
    int n = 0;
    for (int step = 0; step < walk->steps && n < 2 * BLOCK_SIDE; step++) {
        double v = walk_value(walk, grid, step, beside, beside == 0 ? 0.5 : 0);
        if (isfinite(v)) {
            value[n++] = v;
        }
    }
    return 2 * n > walk->steps ? median_of(value, n) : (double)NAN;
}

/* The level on the line at a step, and at so many blocks to both sides. */
static void levels_across(double *on, double *left, double *right, const struct walk *walk,
                          const struct block_grid *grid, int step, double far)
{
    double x, y;
    *on = (double)NAN;
    for (int side = -1; side <= 1; side++) {
        walk_place(&x, &y, walk, step, 0.5 * side);
        *on = fmax(*on, block_level_at(grid, x, y));
    }
    walk_place(&x, &y, walk, step, -far);
    *left = block_level_at(grid, x, y);
    walk_place(&x, &y, walk, step, far);
    *right = block_level_at(grid, x, y);
}

/* Whether the level rises to the line from both sides by what the line is above the sky. At an edge
 * the sides differ by more. */
static bool is_ridge(const struct walk *walk, const struct block_grid *grid, double far,
                     double light)
{
    double height[2 * BLOCK_SIDE], slope[2 * BLOCK_SIDE];
    int n = 0;
    for (int step = 0; step < walk->steps && n < 2 * BLOCK_SIDE; step++) {
        double on, left, right;
        levels_across(&on, &left, &right, walk, grid, step, far);
        if (isfinite(on + left + right)) {
            height[n] = on - (left + right) / 2;
            slope[n++] = left - right;
        }
    }
    return 2 * n > walk->steps && median_of(height, n) > (1 - thin) * light &&
           fabs(median_of(slope, n)) < light;
}

/* Galaxies, nebulae and tails of comets are wider, edges of roofs and clouds are no ridges. An
 * aeroplane has a second lamp near the first, so that only one side is looked at right beside the
 * line. */
static bool is_thin(const struct walk *walk, const struct block_grid *grid)
{
    const double near = 2, far = 4;
    double light = light_along(walk, grid, 0);
    double left = fabs(light_along(walk, grid, -near)), right = fabs(light_along(walk, grid, near));
    return fmin(left, right) < thin * light && is_ridge(walk, grid, far, light);
}

/* All the light at a step, wherever it lies between blocks. */
static double light_across(const struct walk *walk, const struct block_grid *grid, int step)
{
    double sum = 0, x, y;
    for (int beside = -1; beside <= 1; beside++) {
        walk_place(&x, &y, walk, step, beside);
        sum += block_at(grid, x, y);
    }
    return sum;
}

/* A satellite is as bright all along; spikes of bright stars, arms of galaxies and leaves are not.
 */
static bool is_even(const struct walk *walk, const struct block_grid *grid)
{
    double light[2 * BLOCK_SIDE];
    int n = 0;
    for (int step = 0; step < walk->steps && n < 2 * BLOCK_SIDE; step++) {
        double v = light_across(walk, grid, step);
        if (isfinite(v)) {
            light[n++] = v;
        }
    }
    double middle = median_of(light, n);
    for (int i = 0; i < n; i++) {
        light[i] = fabs(light[i] - middle);
    }
    return median_of(light, n) < uneven * middle;
}

/* Rows and columns of a sensor that are brighter than the others. */
static bool is_along_axis(const struct walk *walk)
{
    double smaller = fmin(fabs(walk->line.cosine), fabs(walk->line.sine));
    return smaller * walk->steps < axis_blocks;
}

/* Whether both its ends lie beside a line that was found already: the other lamp, or the same
 * again. */
static bool is_beside(const struct walk *walk, const struct walk *other)
{
    for (int end = 0; end < 2; end++) {
        double x, y;
        walk_place(&x, &y, walk, end ? walk->steps - 1 : 0, 0);
        double off = x * other->line.cosine + y * other->line.sine - other->line.distance;
        if (fabs(off) > NEAR) {
            return false;
        }
    }
    return true;
}

static bool is_streak(struct walk *walk, const struct line *line, const struct block_grid *grid)
{
    *walk = (struct walk){.line = *line};
    for (int turn = 0; turn < 4; turn++) { /* the straighter the longer */
        find_run(walk, grid, 1);
        straighten(walk, grid);
    }
    find_run(walk, grid, 0.5);
    return walk->steps >= SHORTEST && !is_along_axis(walk) && is_no_chance(walk, grid) &&
           is_thin(walk, grid) && is_even(walk, grid);
}

/* Neither the blocks of a line nor those near it, such as of an aeroplane's other lamp, vote for
 * another. */
static void take_votes_back(struct votes *votes, const struct block_grid *grid,
                            const struct walk *walk)
{
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            double off = x * walk->line.cosine + y * walk->line.sine - walk->line.distance;
            if (fabs(off) < NEAR && block_stands(grid, x, y)) {
                vote(votes, x, y, -1);
            }
        }
    }
}

static void add(struct streak_list *list, const struct walk *walk, const struct block_grid *grid,
                int bin)
{
    double x[2], y[2], scale = (double)grid->block * bin, middle = (scale - 1) / 2;
    walk_place(&x[0], &y[0], walk, 0, 0);
    walk_place(&x[1], &y[1], walk, walk->steps - 1, 0);
    int first = x[0] <= x[1] ? 0 : 1;
    list->streak[list->count++] = (struct streak){.x0 = x[first] * scale + middle,
                                                  .y0 = y[first] * scale + middle,
                                                  .x1 = x[1 - first] * scale + middle,
                                                  .y1 = y[1 - first] * scale + middle};
}

static int find_lines(struct streak_list *list, const struct block_grid *grid, int bin,
                      struct error *err)
{
    struct votes votes = {0};
    struct line line = {0};
    struct walk found[STREAKS_MOST];
    int code = votes_make(&votes, grid, err), count = 0;
    for (int i = 0; !code && i < TRIES && count < STREAKS_MOST; i++) {
        struct walk *walk = &found[count];
        if (!next_line(&line, &votes, grid)) {
            break;
        }
        bool good = is_streak(walk, &line, grid);
        for (int k = 0; good && k < count; k++) {
            good = !is_beside(walk, &found[k]);
        }
        if (good) {
            add(list, walk, grid, bin);
            take_votes_back(&votes, grid, walk);
            count++;
        }
    }
    free(votes.vote);
    return code;
}

int streaks_find(struct streak_list *list, const struct frame *frame, struct error *err)
{
    struct block_grid grid = {0};
    *list = (struct streak_list){0};
    int code = block_grid_make(&grid, &frame->luminance, err);
    if (!code && grid.standing > SHORTEST / 2 && grid.standing < crowded * grid.count) {
        code = find_lines(list, &grid, frame->luminance.bin, err);
    }
    block_grid_free(&grid);
    return code;
}
