#include "base/median.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Of the sky around, what is farther off than so many times the scatter is no sky. */
static const double clip = 3;
/* Squares of 4 x 4 pixels that rise by so many times their noise above those around hold stars. One
 * of 160 that hold none does so too, in the target as in the sky around; stars that stay make the
 * target brighter where they are denser there. */
static const float star_rise = 2.5F;
enum { ROUNDS = 5, LEAST_SQUARES = 8, LEAST_CELLS = 16, RING_MOST = 24, HALF_FULL = 8 };
/* Cells where fewer frames were than this share of the usual tell less of the noise. */
static const double least_share = 0.3;

/* Means of squares as large as the region's. */
struct squares {
    float *mean, *weight, *spare; /* mean NaN: too few pixels */
    int columns, rows;
};

static void squares_free(struct squares *s)
{
    free(s->mean);
    free(s->weight);
    free(s->spare);
}

static void fill_square(struct squares *s, const struct stack *stack, int i, int j)
{
    float sum = 0, weight = 0;
    int pixels = 0;
    for (int y = j * STACK_REGION; y < (j + 1) * STACK_REGION && y < stack->place.height; y++) {
        const struct stack_row row = stack_row(stack, y);
        for (int x = i * STACK_REGION; x < (i + 1) * STACK_REGION && x < stack->place.width; x++) {
            if (row.weight[x] > 0) {
                sum += row.mean[x];
                weight += row.weight[x];
                pixels++;
            }
        }
    }
    size_t at = (size_t)j * (size_t)s->columns + (size_t)i;
    s->mean[at] = pixels >= HALF_FULL ? sum / (float)pixels : NAN;
    s->weight[at] = weight;
}

static bool squares_make(struct squares *s, const struct stack *stack)
{
    size_t n = (size_t)stack->region_columns * (size_t)stack->region_rows;
    s->columns = stack->region_columns;
    s->rows = stack->region_rows;
    s->mean = malloc(n * sizeof *s->mean);
    s->weight = malloc(n * sizeof *s->weight);
    s->spare = malloc(n * sizeof *s->spare);
    bool good = s->mean && s->weight && s->spare;
    for (int j = 0; good && j < s->rows; j++) {
        for (int i = 0; i < s->columns; i++) {
            fill_square(s, stack, i, j);
        }
    }
    return good;
}

/* Median of the squares so far off, in a square ring; NaN: hardly any is known. */
static float find_ring(const struct squares *s, int i, int j, int off)
{
    double ring[RING_MOST];
    int n = 0, all = 8 * off;
    for (int k = 0; k < all; k++) {
        int side = k / (2 * off), along = k % (2 * off) - off;
        int dx = side == 0 ? along : side == 1 ? off : side == 2 ? -along : -off;
        int dy = side == 0 ? -off : side == 1 ? along : side == 2 ? off : -along;
        int x = i + dx, y = j + dy;
        float v = x >= 0 && y >= 0 && x < s->columns && y < s->rows
                      ? s->spare[(size_t)y * (size_t)s->columns + (size_t)x]
                      : NAN;
        if (v - v == 0) {
            ring[n++] = (double)v;
        }
    }
    return 2 * n > all ? (float)median_of(ring, n) : NAN;
}

/* Squares of a region with stars become as what is around them. Within the target, where a star
 * rises by no more than what is there rises above the sky, it may as well be a knot of that. unit:
 * noise of a pixel of weight 1; sky: NaN: of no matter. */
static void take_stars_off(struct squares *s, const struct stack *stack, int region, double unit,
                           double sky)
{
    const int off = 2;
    memcpy(s->spare, s->mean, (size_t)s->columns * (size_t)s->rows * sizeof *s->mean);
    for (int j = 0; j < s->rows; j++) {
        for (int i = 0; i < s->columns; i++) {
            size_t at = (size_t)j * (size_t)s->columns + (size_t)i;
            if (stack->region[at] != region) {
                continue;
            }
            float noise = (float)unit / sqrtf(s->weight[at]), around = find_ring(s, i, j, off);
            float rise = s->mean[at] - around;
            if (rise > star_rise * noise && !(rise <= around - (float)sky)) {
                s->mean[at] = around;
            }
        }
    }
}

/* The level of a region of the sheet. */
struct level {
    double mean;
    double weight; /* mean weight of its pixels */
    double pixels;
};

struct sums {
    double sum, squares, weight;
    long count;
};

static void add_up(struct sums *sums, const struct squares *s, const struct stack *stack,
                   int region, double low, double high)
{
    *sums = (struct sums){0};
    for (size_t i = 0; i < (size_t)s->columns * (size_t)s->rows; i++) {
        double v = (double)s->mean[i];
        if (stack->region[i] == region && v >= low && v <= high) {
            sums->sum += v;
            sums->squares += v * v;
            sums->weight += (double)s->weight[i];
            sums->count++;
        }
    }
}

/* The mean; of the sky what is beyond clip times the scatter is left out, again and again. */
static bool find_level(struct level *level, const struct squares *s, const struct stack *stack,
                       int region)
{
    const double pixels = STACK_REGION * STACK_REGION;
    double low = -(double)INFINITY, high = INFINITY;
    struct sums sums = {0};
    for (int round = 0; round < (region == REGION_AROUND ? ROUNDS : 1); round++) {
        add_up(&sums, s, stack, region, low, high);
        if (sums.count < LEAST_SQUARES) {
            return false;
        }
        double mean = sums.sum / (double)sums.count;
        double scatter = sqrt(fmax(0, sums.squares / (double)sums.count - mean * mean));
        low = mean - clip * scatter;
        high = mean + clip * scatter;
    }
    *level =
        (struct level){sums.sum / (double)sums.count, sums.weight / ((double)sums.count * pixels),
                       (double)sums.count * pixels};
    return true;
}

/* Mean weight of a pixel of the target; 0: it is not on the frames. */
static double usual_weight(const struct squares *s, const struct stack *stack)
{
    struct level target;
    return find_level(&target, s, stack, REGION_TARGET) ? target.weight : 0;
}

/* How a cell's two halves differ, or its mean, in units of the noise of a pixel of weight 1. */
static double cell_number(const struct stack_cell *c, bool halves)
{
    if (halves) {
        return (c->sum[0] / c->weight[0] - c->sum[1] / c->weight[1]) /
               sqrt(1 / c->weight[0] + 1 / c->weight[1]);
    }
    double weight = c->weight[0] + c->weight[1];
    return (c->sum[0] + c->sum[1]) / weight * sqrt(weight);
}

/* Standard deviation of the numbers about their median, without those that are beyond all noise; a
 * median of distances would be known half as well. */
static double find_scatter(double *number, int count)
{
    const double beyond = 4;
    double middle = median_of(number, count), sum = 0;
    int used = 0;
    for (int i = 0; i < count; i++) {
        number[i] = fabs(number[i] - middle);
    }
    double most = beyond * 1.4826 * median_of(number, count);
    for (int i = 0; i < count; i++) {
        if (number[i] <= most) {
            sum += number[i] * number[i];
            used++;
        }
    }
    return sqrt(sum / used);
}

/* Noise of a pixel of the sheet of weight 1; NaN: too little is known. */
static double find_noise(int *cells, const struct stack *stack, double usual)
{
    size_t n = (size_t)stack->cell_columns * (size_t)stack->cell_rows;
    double *number = malloc((n + 1) * sizeof *number), noise = NAN;
    bool halves = stack->frames > 1;
    double least = least_share * usual * STACK_CELL * STACK_CELL / (halves ? 2 : 1);
    int count = 0;
    for (size_t i = 0; number && i < n; i++) {
        const struct stack_cell *c = &stack->cell[i];
        if (c->weight[0] > least && (!halves || c->weight[1] > least)) {
            number[count++] = cell_number(c, halves);
        }
    }
    if (number && count >= LEAST_CELLS) {
        noise = find_scatter(number, count);
    }
    free(number);
    *cells = count;
    return noise;
}

/* What the surfaces that were taken off the frames as their sky add to the variance: the more
 * terms, the less is a level within the hole that the target leaves in them known. */
static double surface_share(const struct stack *stack, double weight)
{
    return 2 * SKY_SURFACE_TERMS / (weight * stack->sky_looks);
}

static const char *measure(struct stack_signal *signal, const struct stack *stack,
                           struct squares *squares)
{
    struct level target, around;
    int cells;
    double unit = find_noise(&cells, stack, usual_weight(squares, stack));
    double per_pixel = stack->place.scale_arcsec / stack->pixel_arcsec;
    if (!(unit > 0)) {
        return "the frames are too small to measure their noise";
    }
    take_stars_off(squares, stack, REGION_AROUND, unit, NAN);
    if (!find_level(&around, squares, stack, REGION_AROUND)) {
        return "the frames show too little sky around the target's outline";
    }
    take_stars_off(squares, stack, REGION_TARGET, unit, around.mean);
    if (!find_level(&target, squares, stack, REGION_TARGET)) {
        return "too little of the target's outline is in the frames";
    }
    signal->level = target.mean - around.mean;
    signal->noise = unit * per_pixel / sqrt(target.weight);
    signal->level_error =
        unit * sqrt(1 / (target.weight * target.pixels) + 1 / (around.weight * around.pixels) +
                    surface_share(stack, target.weight));
    signal->once = signal->level / signal->noise;
    signal->once_error =
        hypot(signal->level_error / signal->noise, signal->once / sqrt(2.0 * cells));
    return NULL;
}

void stack_signal(struct stack_signal *signal, const struct stack *stack)
{
    struct squares squares = {0};
    *signal = (struct stack_signal){0};
    if (!stack->frames) {
        signal->unknown = "no frame is in the stack";
    } else if (!stack->has_target_area) {
        signal->unknown = "the target has no outline: it is a point";
    } else if (!squares_make(&squares, stack)) {
        signal->unknown = "out of memory";
    } else {
        signal->unknown = measure(signal, stack, &squares);
    }
    signal->known = !signal->unknown;
    squares_free(&squares);
}
