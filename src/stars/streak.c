/* stars/streak.c: lines across the sky.
 *
 * The plane is reduced to about 256 blocks along its longer side: a line's light against the noise
 * stays as it was, since both grow with the side of a block, and the work becomes small. Blocks
 * that stand out of the sky around them vote for the lines through them. Lines with more votes than
 * their length lets expect are walked along. What is found has to be filled too well for chance: of
 * n steps with h hits, at a share p of blocks that stand out, the chance is below exp(-n KL(h/n ||
 * p)) (Chernoff 1952, Ann. Math. Statist. 23, 493). */
#include "stars/streak.h"

#include "base/median.h"
#include "stars/block_grid.h"
#include "stars/line_votes.h"
#include "stars/line_walk.h"

#include <math.h>
#include <stdbool.h>

enum { TRIES = 24, SHORTEST = 24 };

static const double crowded = 0.2;   /* share of blocks that stand out, most */
static const double filled = 0.75;   /* share of the steps along a line, least */
static const double sure = 30;       /* minus the logarithm of the chance, least */
static const double thin = 0.25;     /* light beside a line against that on it, most */
static const double uneven = 0.33;   /* usual difference from its usual light, most, of that */
static const double axis_blocks = 3; /* by which a line leaves a row or column, least */

/* How many blocks in a row stand out along the line's direction once one does, the run left out:
 * trails of stars make neighbours alike. */
static double usual_run(const struct line_walk *walk, const struct block_grid *grid)
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

static bool is_no_chance(const struct line_walk *walk, const struct block_grid *grid)
{
    double others = fmax(grid->standing - walk->hits, 1) / grid->count;
    double p = fmin(2 * others, 0.9); /* two blocks are looked at, as a rule */
    double share = fmin((double)walk->hits / walk->steps, 1 - 1e-6);
    double gain = share * log(share / p) + (1 - share) * log((1 - share) / (1 - p));
    return share >= filled && share > p && walk->steps * gain / usual_run(walk, grid) >= sure;
}

/* Median along the run, at so many blocks to one side; NAN if most of it is outside. */
static double light_along(const struct line_walk *walk, const struct block_grid *grid,
                          double beside)
{
    double value[2 * BLOCK_SIDE];
    int n = 0;
    for (int step = 0; step < walk->steps && n < 2 * BLOCK_SIDE; step++) {
        double v = line_walk_value(walk, grid, step, beside, beside == 0 ? 0.5 : 0);
        if (isfinite(v)) {
            value[n++] = v;
        }
    }
    return 2 * n > walk->steps ? median_of(value, n) : (double)NAN;
}

/* The level on the line at a step, and at so many blocks to both sides. */
static void levels_across(double *on, double *left, double *right, const struct line_walk *walk,
                          const struct block_grid *grid, int step, double far)
{
    double x, y;
    *on = (double)NAN;
    for (int side = -1; side <= 1; side++) {
        line_walk_place(&x, &y, walk, step, 0.5 * side);
        *on = fmax(*on, block_level_at(grid, x, y));
    }
    line_walk_place(&x, &y, walk, step, -far);
    *left = block_level_at(grid, x, y);
    line_walk_place(&x, &y, walk, step, far);
    *right = block_level_at(grid, x, y);
}

/* Whether the level rises to the line from both sides by what the line is above the sky. At an edge
 * the sides differ by more. */
static bool is_ridge(const struct line_walk *walk, const struct block_grid *grid, double far,
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
static bool is_thin(const struct line_walk *walk, const struct block_grid *grid)
{
    const double near = 2, far = 4;
    double light = light_along(walk, grid, 0);
    double left = fabs(light_along(walk, grid, -near)), right = fabs(light_along(walk, grid, near));
    return fmin(left, right) < thin * light && is_ridge(walk, grid, far, light);
}

/* All the light at a step, wherever it lies between blocks. */
static double light_across(const struct line_walk *walk, const struct block_grid *grid, int step)
{
    double sum = 0, x, y;
    for (int beside = -1; beside <= 1; beside++) {
        line_walk_place(&x, &y, walk, step, beside);
        sum += block_at(grid, x, y);
    }
    return sum;
}

/* A satellite is as bright all along; spikes of bright stars, arms of galaxies and leaves are not.
 */
static bool is_even(const struct line_walk *walk, const struct block_grid *grid)
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
static bool is_along_axis(const struct line_walk *walk)
{
    double smaller = fmin(fabs(walk->line.cosine), fabs(walk->line.sine));
    return smaller * walk->steps < axis_blocks;
}

/* Whether both its ends lie beside a line that was found already: the other lamp, or the same
 * again. */
static bool is_beside(const struct line_walk *walk, const struct line_walk *other)
{
    for (int end = 0; end < 2; end++) {
        double x, y;
        line_walk_place(&x, &y, walk, end ? walk->steps - 1 : 0, 0);
        double off = x * other->line.cosine + y * other->line.sine - other->line.distance;
        if (fabs(off) > LINE_NEAR) {
            return false;
        }
    }
    return true;
}

static bool is_streak(struct line_walk *walk, const struct grid_line *line,
                      const struct block_grid *grid)
{
    line_walk_find(walk, line, grid);
    return walk->steps >= SHORTEST && !is_along_axis(walk) && is_no_chance(walk, grid) &&
           is_thin(walk, grid) && is_even(walk, grid);
}

static void add(struct streak_list *list, const struct line_walk *walk,
                const struct block_grid *grid, int bin)
{
    double x[2], y[2], scale = (double)grid->block * bin, middle = (scale - 1) / 2;
    line_walk_place(&x[0], &y[0], walk, 0, 0);
    line_walk_place(&x[1], &y[1], walk, walk->steps - 1, 0);
    int first = x[0] <= x[1] ? 0 : 1;
    list->streak[list->count++] = (struct streak){.x0 = x[first] * scale + middle,
                                                  .y0 = y[first] * scale + middle,
                                                  .x1 = x[1 - first] * scale + middle,
                                                  .y1 = y[1 - first] * scale + middle};
}

static int find_lines(struct streak_list *list, const struct block_grid *grid, int bin,
                      struct error *err)
{
    struct line_votes votes = {0};
    struct grid_line line = {0};
    struct line_walk found[STREAKS_MOST];
    int code = line_votes_make(&votes, grid, err), count = 0;
    for (int i = 0; !code && i < TRIES && count < STREAKS_MOST; i++) {
        struct line_walk *walk = &found[count];
        if (!line_votes_next(&line, &votes)) {
            break;
        }
        bool good = is_streak(walk, &line, grid);
        for (int k = 0; good && k < count; k++) {
            good = !is_beside(walk, &found[k]);
        }
        if (good) {
            add(list, walk, grid, bin);
            line_votes_take_back(&votes, grid, &walk->line);
            count++;
        }
    }
    line_votes_free(&votes);
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
