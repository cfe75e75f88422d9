#include "demo/render_traffic.h"

#include "base/random.h"
#include "base/units.h"

#include <math.h>

static const double flash_every_px = 260;

/* A way through the picture that passes within a third of its height of the middle. */
struct way {
    double x, y, dx, dy; /* where it is nearest to the middle; a unit step */
    double half;
};

static struct way choose_way(struct random *random, int width, int height)
{
    double angle = random_between(random, 0, PI), off = random_between(random, -1, 1) * height / 3;
    struct way way = {.dx = cos(angle), .dy = sin(angle), .half = hypot(width, height) / 2};
    way.x = width / 2.0 - off * way.dy;
    way.y = height / 2.0 + off * way.dx;
    return way;
}

/* A line so many px beside the way, with this light a px. */
static struct stroke line_beside(const struct way *way, double beside, double fwhm, double e_px)
{
    return (struct stroke){.x = way->x - beside * way->dy,
                           .y = way->y + beside * way->dx,
                           .trail_x = 2 * way->half * way->dx,
                           .trail_y = 2 * way->half * way->dy,
                           .fwhm = fwhm,
                           .electrons = 2 * way->half * e_px,
                           .gain = mosaic_grey()};
}

void traffic_draw(float *plane, int width, int height, const struct brush *brush,
                  const struct render_traffic *traffic, double fwhm, double noise_e)
{
    struct random random = {traffic->seed + 3};
    double floor = 0.05 * noise_e;
    for (int i = 0; i < traffic->satellites; i++) {
        struct way way = choose_way(&random, width, height);
        double e_px = noise_e * fwhm * random_between(&random, 4, 60);
        struct stroke line = line_beside(&way, 0, fwhm, e_px);
        brush_draw(plane, width, height, brush, &line, floor);
    }
    for (int i = 0; i < traffic->aeroplanes; i++) {
        struct way way = choose_way(&random, width, height);
        double e_px = noise_e * fwhm * random_between(&random, 50, 400);
        for (int side = -1; side <= 1; side += 2) {
            struct stroke line = line_beside(&way, side * 4 * fwhm, fwhm, e_px);
            brush_draw(plane, width, height, brush, &line, floor);
        }
        for (double t = -way.half; t < way.half; t += flash_every_px) {
            struct stroke flash = {.x = way.x + t * way.dx,
                                   .y = way.y + t * way.dy,
                                   .fwhm = fwhm,
                                   .electrons = 60 * e_px,
                                   .gain = mosaic_grey()};
            brush_draw(plane, width, height, brush, &flash, floor);
        }
    }
}
