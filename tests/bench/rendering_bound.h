/* tests/bench/rendering_bound.h: star_bound.h for the stars of a rendering. */
#ifndef ALIDADE_TESTS_BENCH_RENDERING_BOUND_H
#define ALIDADE_TESTS_BENCH_RENDERING_BOUND_H

#include "demo/render.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/star_bound.h"

/* Ends with rendering_bound_end. */
struct rendering_bound {
    const struct rendering *rendering; /* borrowed */
    struct light_map map;
    struct lens_plan plan;
    float *glow; /* one row */
};

static inline void rendering_bound_start(struct rendering_bound *b,
                                         const struct rendering *rendering)
{
    const struct render_options *o = &rendering->options;
    struct error err = {0};
    b->rendering = rendering;
    lens_plan_make(&b->plan, &o->lens, &rendering->truth);
    bench_require(light_map_make(&b->map, &o->light, &o->lens, &err), &err);
    b->glow = bench_calloc((size_t)rendering->width, sizeof *b->glow);
}

static inline void rendering_bound_end(struct rendering_bound *b)
{
    free(b->glow);
    light_map_free(&b->map);
}

/* Trail and blur as demo/render.c draws them. */
static inline void rendering_bound_shape(struct bound_star *s, const struct rendering_bound *b)
{
    const struct render_options *o = &b->rendering->options;
    const struct wcs *truth = &b->rendering->truth;
    double v[3], x1, y1, x2, y2, half = 15.041 / ARCSEC_PER_RAD * o->camera.exposure_s / 2;
    double r = hypot(s->x - truth->x, s->y - truth->y) / (hypot(truth->width, truth->height) / 2);
    s->sigma = o->camera.fwhm_px * (1 + o->corner_blur * r * r) / 2.3548;
    wcs_direction(v, truth, s->x, s->y);
    double before[3] = {v[0] - half * v[1], v[1] + half * v[0], v[2]};
    double after[3] = {v[0] + half * v[1], v[1] - half * v[0], v[2]};
    if (!o->tracked && lens_plan_pixel(&x1, &y1, &b->plan, before) &&
        lens_plan_pixel(&x2, &y2, &b->plan, after)) {
        s->trail_x = x2 - x1;
        s->trail_y = y2 - y1;
    }
}

/* Variance of x plus that of y that photons and readout leave, px^2. */
static inline double rendering_bound_variance(const struct rendering_bound *b,
                                              const struct render_star *star)
{
    const struct render_options *o = &b->rendering->options;
    struct bound_star s = {.x = star->x,
                           .y = star->y,
                           .electrons = star->electrons,
                           .read_e = o->camera.read_noise_e,
                           .clip_e = (SENSOR_WHITE - o->sensor.black_adu) * o->sensor.e_per_adu,
                           .exposures = o->camera.stacked > 1 ? o->camera.stacked : 1};
    int x = (int)fmin(fmax(star->x, 0), b->rendering->width - 1);
    int y = (int)fmin(fmax(star->y, 0), b->rendering->height - 1);
    light_map_glow_row(b->glow, &b->map, y);
    s.sky_e = camera_sky_e(&o->camera) * (double)b->glow[x];
    rendering_bound_shape(&s, b);
    return bound_variance(&s);
}

#endif
