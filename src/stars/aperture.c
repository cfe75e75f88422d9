#include "stars/aperture.h"

#include "base/median.h"

#include <math.h>

enum { MOST_RING = 4000 };

struct capsule {
    double x, y, cos_a, sin_a, half, radius, outer; /* plane pixels */
};

static double distance_to(const struct capsule *c, double x, double y)
{
    double dx = x - c->x, dy = y - c->y;
    double u = fabs(dx * c->cos_a + dy * c->sin_a), w = dy * c->cos_a - dx * c->sin_a;
    return hypot(fmax(u - c->half, 0), w);
}

struct tally {
    double light, area;
    double ring[MOST_RING];
    int rings;
};

/* How much of a pixel lies inside, as if the rim were straight and the pixel round. */
static double part_inside(double distance, double radius)
{
    return fmin(fmax(radius - distance + 0.5, 0), 1);
}

static void count(struct tally *t, const struct capsule *c, const struct plane *plane, int x, int y)
{
    double distance = distance_to(c, x, y);
    double v = (double)plane->value[(size_t)y * (size_t)plane->width + (size_t)x];
    double part = part_inside(distance, c->radius);
    if (part > 0) {
        t->light += part * v;
        t->area += part;
    } else if (distance > c->radius + 2.0 / plane->bin && distance < c->outer && isfinite(v) &&
               t->rings < MOST_RING) {
        t->ring[t->rings++] = v;
    }
}

double aperture_light(double *ground, const struct plane *plane, double x, double y, double dx,
                      double dy, double radius)
{
    double bin = plane->bin, length = hypot(dx, dy);
    struct capsule c = {.x = (x - (bin - 1) / 2) / bin,
                        .y = (y - (bin - 1) / 2) / bin,
                        .cos_a = length > 0 ? dx / length : 1,
                        .sin_a = length > 0 ? dy / length : 0,
                        .half = length / 2 / bin,
                        .radius = radius / bin};
    struct tally t = {0};
    c.outer = 1.5 * c.radius + 2 / bin + 2;
    double wide = c.half * fabs(c.cos_a) + c.outer, high = c.half * fabs(c.sin_a) + c.outer;
    int left = (int)floor(c.x - wide), right = (int)ceil(c.x + wide);
    int upper = (int)floor(c.y - high), lower = (int)ceil(c.y + high);
    if (left < 0 || upper < 0 || right >= plane->width || lower >= plane->height) {
        return (double)NAN;
    }
    for (int j = upper; j <= lower; j++) {
        for (int i = left; i <= right; i++) {
            count(&t, &c, plane, i, j);
        }
    }
    double level = median_of(t.ring, t.rings);
    if (ground) {
        *ground = level;
    }
    return t.rings > 0 ? (t.light - t.area * level) * bin * bin : (double)NAN;
}
