#include "base/median.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdlib.h>

/* What is farther off than so many times the scatter is a star, not part of a level. */
static const double clip = 3;
enum { ROUNDS = 5, LEAST_PIXELS = 64, LEAST_CELLS = 16, SORTED = 4096 };
/* Cells where fewer frames were than this share of the usual tell less of the noise. */
static const double least_share = 0.3;

/* The level of a region of the sheet. */
struct level {
    double mean;
    double weight; /* mean weight of its pixels */
    long pixels;
};

struct sums {
    double sum, squares, weight;
    long pixels;
};

static void add_up(struct sums *sums, const struct stack *stack, int region, double low,
                   double high)
{
    int width = stack->place.width;
    *sums = (struct sums){0};
    for (int y = 0; y < stack->place.height; y++) {
        const unsigned char *at =
            stack->region + (size_t)(y / STACK_REGION) * (size_t)stack->region_columns;
        const struct stack_pixel *row = stack->pixel + (size_t)y * (size_t)width;
        for (int x = 0; x < width; x++) {
            double v = (double)row[x].mean;
            if (at[x / STACK_REGION] == region && row[x].weight > 0 && v >= low && v <= high) {
                sums->sum += v;
                sums->squares += v * v;
                sums->weight += (double)row[x].weight;
                sums->pixels++;
            }
        }
    }
}

/* Median and scatter of some of the pixels. False: there are hardly any. */
static bool look(double *middle, double *scatter, const struct stack *stack, int region,
                 double *sorted)
{
    size_t n = (size_t)stack->place.width * (size_t)stack->place.height, seen = 0;
    struct sums all;
    int count = 0;
    add_up(&all, stack, region, -(double)INFINITY, (double)INFINITY);
    size_t step = (size_t)all.pixels / SORTED + 1;
    for (size_t i = 0; i < n && count < SORTED; i++) {
        size_t x = i % (size_t)stack->place.width, y = i / (size_t)stack->place.width;
        bool inside =
            stack->region[y / STACK_REGION * (size_t)stack->region_columns + x / STACK_REGION] ==
            region;
        if (inside && stack->pixel[i].weight > 0 && seen++ % step == 0) {
            sorted[count++] = (double)stack->pixel[i].mean;
        }
    }
    if (all.pixels < LEAST_PIXELS) {
        return false;
    }
    *middle = median_of(sorted, count);
    for (int i = 0; i < count; i++) {
        sorted[i] = fabs(sorted[i] - *middle);
    }
    *scatter = 1.4826 * median_of(sorted, count);
    return true;
}

/* The mean without stars: what is beyond clip times the scatter is left out, again and again. */
static bool find_level(struct level *level, const struct stack *stack, int region, double *sorted)
{
    double middle, scatter;
    struct sums s = {0};
    if (!look(&middle, &scatter, stack, region, sorted)) {
        return false;
    }
    for (int round = 0; round < ROUNDS; round++) {
        add_up(&s, stack, region, middle - clip * scatter, middle + clip * scatter);
        if (s.pixels < LEAST_PIXELS) {
            return false;
        }
        middle = s.sum / (double)s.pixels;
        scatter = sqrt(fmax(0, s.squares / (double)s.pixels - middle * middle));
    }
    *level = (struct level){middle, s.weight / (double)s.pixels, s.pixels};
    return true;
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
static double find_noise(int *cells, const struct stack *stack, double usual_weight)
{
    size_t n = (size_t)stack->cell_columns * (size_t)stack->cell_rows;
    double *number = malloc((n + 1) * sizeof *number), noise = NAN;
    bool halves = stack->frames > 1;
    double least = least_share * usual_weight * STACK_CELL * STACK_CELL / (halves ? 2 : 1);
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
    double pixels = (double)stack->place.width * stack->place.height;
    return 2 * SKY_SURFACE_TERMS / (weight * pixels);
}

static const char *measure(struct stack_signal *signal, const struct stack *stack, double *sorted)
{
    struct level target, around;
    int cells;
    if (!stack->has_target_area) {
        return "the target has no outline: it is a point";
    }
    if (!find_level(&target, stack, REGION_TARGET, sorted)) {
        return "too little of the target's outline is in the frames";
    }
    if (!find_level(&around, stack, REGION_AROUND, sorted)) {
        return "the frames show too little sky around the target's outline";
    }
    double unit = find_noise(&cells, stack, target.weight);
    double per_pixel = stack->place.scale_arcsec / stack->pixel_arcsec;
    if (!(unit > 0)) {
        return "the frames are too small to measure their noise";
    }
    signal->level = target.mean - around.mean;
    signal->noise = unit * per_pixel / sqrt(target.weight);
    signal->level_error = unit * sqrt(1 / (target.weight * (double)target.pixels) +
                                      1 / (around.weight * (double)around.pixels) +
                                      surface_share(stack, target.weight));
    signal->once = signal->level / signal->noise;
    signal->once_error =
        hypot(signal->level_error / signal->noise, signal->once / sqrt(2.0 * cells));
    return NULL;
}

void stack_signal(struct stack_signal *signal, const struct stack *stack)
{
    double *sorted = malloc(SORTED * sizeof *sorted);
    *signal = (struct stack_signal){0};
    signal->unknown = !stack->frames ? "no frame is in the stack"
                      : sorted       ? measure(signal, stack, sorted)
                                     : "out of memory";
    signal->known = !signal->unknown;
    free(sorted);
}
