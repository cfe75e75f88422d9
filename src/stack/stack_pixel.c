#include "stack/stack_parts.h"

#include <math.h>

/* How many times its noise a value may be off the mean and still belong to it. Of even noise one
 * value in 16,000 is farther off. */
static const float stack_clip = 4;
/* And how many times the smaller of both: frames of a star differ by focus, seeing and where it
 * falls on the pixels. What is beside the sky has no such leave. */
static const float stack_slack = 1;

static float squared(float x)
{
    return x * x;
}

static bool belongs(float value, float noise, float mean, float weight)
{
    float smaller = fminf(fabsf(value), fabsf(mean));
    float slack = value * mean > 0 ? stack_slack * smaller : 0;
    return squared(value - mean) <= squared(stack_clip * noise) * (1 + 1 / weight) + squared(slack);
}

static void join(float *mean, float *mean_weight, float value, float weight)
{
    *mean_weight += weight;
    *mean += (value - *mean) * weight / *mean_weight;
}

/* What does not fit the mean may fit the other candidate, which each misfit weakens (after Boyer &
 * Moore's vote, 1981, from memory). */
static void take_other(struct stack_pixel *p, float value, float weight, float noise)
{
    if (p->other_weight > 0 && belongs(value, noise, p->other, p->other_weight)) {
        join(&p->other, &p->other_weight, value, weight);
    } else if (p->other_weight <= weight) {
        p->other = value;
        p->other_weight = weight;
    } else {
        p->other_weight -= weight;
    }
    if (p->other_weight > p->weight || (p->other_weight >= p->weight && p->other < p->mean)) {
        *p = (struct stack_pixel){p->other, p->other_weight, p->mean, p->weight};
    }
}

static bool take(struct stack_pixel *p, float value, float weight, float noise)
{
    if (!(p->weight > 0)) {
        *p = (struct stack_pixel){.mean = value, .weight = weight};
        return true;
    }
    bool fits = belongs(value, noise, p->mean, p->weight);
    if (fits) {
        join(&p->mean, &p->weight, value, weight);
    } else {
        take_other(p, value, weight, noise);
    }
    return fits;
}

bool stack_pixels_take(struct stack_pixel *pixel, const float *value, unsigned char *fits,
                       int width, float weight, float noise)
{
    bool any = false;
    for (int x = 0; x < width; x++) {
        bool finite = value[x] - value[x] == 0;
        fits[x] = finite && take(&pixel[x], value[x], weight, noise);
        any = any || finite;
    }
    return any;
}

float stack_pixel_value(const struct stack_pixel *pixel)
{
    return pixel->weight > 0 ? pixel->mean : NAN;
}
