#include "stack/stack_parts.h"

#include "base/wider.h"

#include <math.h>

/* How many times its noise a value may be off the mean and still belong to it. Of even noise one
 * value in 16,000 is farther off. */
static const float stack_clip = 4;
/* And how many times the smaller of both: frames of a star differ by focus, seeing and where it
 * falls on the pixels. What is beside the sky has no such leave. */
static const float stack_slack = 1;

struct stack_row stack_row(const struct stack *stack, int y)
{
    size_t at = (size_t)y * (size_t)stack->place.width;
    return (struct stack_row){stack->mean + at, stack->mean_weight + at, stack->other + at,
                              stack->other_weight + at};
}

static inline float squared(float x)
{
    return x * x;
}

/* Multiplied by the mean's weight, so that nothing yet, a weight of 0, agrees with all values that
 * are finite. */
static inline int belongs(float value, float clip2, float mean, float weight)
{
    float a = fabsf(value), b = fabsf(mean);
    float smaller = choose(mask_if(a < b), a, b);
    float slack2 = squared(stack_slack * choose(mask_if(value * mean > 0), smaller, 0));
    return squared(value - mean) * weight <= clip2 * (weight + 1) + slack2 * weight;
}

static void join(float *mean, float *mean_weight, float value, float weight)
{
    *mean_weight += weight;
    *mean += (value - *mean) * weight / *mean_weight;
}

static void exchange(float *a, float *b)
{
    float was = *a;
    *a = *b;
    *b = was;
}

/* What does not fit the mean may fit the other candidate, which each misfit weakens (after Boyer &
 * Moore's vote, 1981, from memory). */
static void take_other(const struct stack_row *row, int x, float value, float weight, float clip2)
{
    float *other = &row->other[x], *other_weight = &row->other_weight[x];
    if (*other_weight > 0 && belongs(value, clip2, *other, *other_weight)) {
        join(other, other_weight, value, weight);
    } else if (*other_weight <= weight) {
        *other = value;
        *other_weight = weight;
    } else {
        *other_weight -= weight;
    }
    if (*other_weight > row->weight[x] ||
        (*other_weight >= row->weight[x] && *other < row->mean[x])) {
        exchange(other, &row->mean[x]);
        exchange(other_weight, &row->weight[x]);
    }
}

/* Joins what belongs to its mean, and says so in fits. */
static PLAIN void join_row_plain(float *restrict mean, float *restrict mean_weight,
                                 float *restrict fits, const float *restrict value, int width,
                                 float weight, float clip2)
{
    for (int x = 0; x < width; x++) {
        float off = value[x] - mean[x], heavier = mean_weight[x] + weight;
        float moved = mean[x] + off * (weight / heavier);
        uint32_t finite = mask_if(value[x] - value[x] == 0);
        uint32_t good = finite & mask_if(belongs(value[x], clip2, mean[x], mean_weight[x]));
        mean[x] = choose(good, moved, mean[x]);
        mean_weight[x] = choose(good, heavier, mean_weight[x]);
        fits[x] = choose(good, STACK_FITS, choose(finite, STACK_MISFITS, STACK_NOTHING));
    }
}

WIDER(join_row,
      (float *restrict mean, float *restrict mean_weight, float *restrict fits,
       const float *restrict value, int width, float weight, float clip2),
      (mean, mean_weight, fits, value, width, weight, clip2))

bool stack_row_take(const struct stack_row *row, const float *value, float *fits, int width,
                    float weight, float noise)
{
    float clip2 = squared(stack_clip * noise);
    bool any = false;
    join_row(row->mean, row->weight, fits, value, width, weight, clip2);
    for (int x = 0; x < width; x++) {
        any = any || fits[x] != STACK_NOTHING;
        if (fits[x] == STACK_MISFITS) {
            take_other(row, x, value[x], weight, clip2);
        }
    }
    return any;
}
