#include "stars/measure.h"

#include <math.h>

#define STEPS 6 /* of the centroid's iteration; each step halves the error at the very least */

static double light_beside(const struct source *s, const struct plane *plane, int index)
{
    int cx = index % plane->width, cy = index / plane->width;
    double sum = 0;
    if (cx < 1 || cy < 1 || cx + 1 >= plane->width || cy + 1 >= plane->height) {
        return INFINITY;
    }
    for (int j = -1; j <= 1; j++) {
        for (int i = -1; i <= 1; i++) {
            if (i || j)
                sum += (double)plane->value[index + j * plane->width + i] - s->sky;
        }
    }
    return isnan(sum) ? INFINITY : sum / s->peak;
}

static void sum_pixels(struct source *s, const struct plane *plane)
{
    double sum = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
    int highest = s->pixel[0];
    double full = plane->full > 0 ? 0.985 * (double)plane->full : INFINITY;
    for (int i = 0; i < s->pixels; i++) {
        double dx = s->pixel[i] % plane->width - s->peak_x;
        double dy = s->pixel[i] / plane->width - s->peak_y;
        double value = (double)plane->value[s->pixel[i]];
        double v = value - s->sky;
        if (!(v > 0)) {
            continue;
        }
        s->clipped += value >= full;
        if (v > s->peak) {
            s->peak = v;
            highest = s->pixel[i];
        }
        sum += v;
        x += v * dx;
        y += v * dy;
        xx += v * dx * dx;
        xy += v * dx * dy;
        yy += v * dy * dy;
    }
    s->beside = light_beside(s, plane, highest);
    s->sum = sum;
    if (sum > 0) {
        x /= sum;
        y /= sum;
        s->xx = xx / sum - x * x;
        s->xy = xy / sum - x * y;
        s->yy = yy / sum - y * y;
    }
    s->x = s->peak_x + x;
    s->y = s->peak_y + y;
}

/* Sums of the plane about (x, y) under the profile's weight. */
struct window {
    double light, weight2, dx, dy;
};

static struct window look(const struct source *s, const struct plane *plane,
                          const struct profile *p, double x, double y)
{
    struct window w = {0};
    int rx = (int)ceil(3 * sqrt(p->xx)), ry = (int)ceil(3 * sqrt(p->yy));
    int cx = (int)lround(x), cy = (int)lround(y);
    for (int j = cy - ry; j <= cy + ry; j++) {
        for (int i = cx - rx; i <= cx + rx; i++) {
            double g = profile_value(p, i - x, j - y);
            w.weight2 += g * g;
            if (i < 0 || j < 0 || i >= plane->width || j >= plane->height) {
                continue;
            }
            double v = (double)plane->value[(size_t)j * (size_t)plane->width + (size_t)i] - s->sky;
            if (isnan(v)) {
                continue;
            }
            w.light += g * v;
            w.dx += g * v * (i - x);
            w.dy += g * v * (j - y);
        }
    }
    return w;
}

/* The centroid under a window of the star's own shape, which is as good as fitting the profile.
 * With window and star alike the weighted mean moves half the way, hence the 2. */
static void centre(struct source *s, const struct plane *plane, const struct profile *p)
{
    double x = s->peak_x, y = s->peak_y;
    struct window w = look(s, plane, p, x, y);
    s->profile_flux = w.light / w.weight2;
    if (s->clipped > 1) {
        return;
    }
    for (int step = 0; step < STEPS && w.light > 0; step++) {
        double mx = 2 * w.dx / w.light, my = 2 * w.dy / w.light;
        x += mx;
        y += my;
        if (!(hypot(x - s->peak_x, y - s->peak_y) < 2)) {
            return;
        }
        w = look(s, plane, p, x, y);
        if (hypot(mx, my) < 0.002) {
            break;
        }
    }
    if (w.light > 0) {
        s->x = x;
        s->y = y;
        s->profile_flux = w.light / w.weight2;
    }
}

void measure_source(struct source *s, const struct plane *plane, const struct profile *p)
{
    sum_pixels(s, plane);
    centre(s, plane, p);
}
