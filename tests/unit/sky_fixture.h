/* tests/unit/sky_fixture.h: modelled pictures of places all over the sky. */
#ifndef ALIDADE_TESTS_SKY_FIXTURE_H
#define ALIDADE_TESTS_SKY_FIXTURE_H

#include "base/random.h"
#include "base/units.h"
#include "demo/model_stars.h"
#include "index_fixture.h"
#include "sky/vector.h"

#include <check.h>
#include <math.h>

/* 3000 x 2000 px, a usual detector and a usual eye for brightness; pointing comes later. */
static inline struct model_options sky_usual(double width_deg, int stars)
{
    struct model_options options = {.lens = {.width = 3000, .height = 2000},
                                    .position_noise_px = 0.3,
                                    .mag_noise = 0.15,
                                    .colour_term = 0.3,
                                    .missing = 0.05,
                                    .blend_px = 5,
                                    .max_stars = stars};
    options.lens.scale_arcsec = 2 * tan(width_deg / 2 * RAD_PER_DEG) * ARCSEC_PER_RAD / 3000;
    return options;
}

/* Points it: poles and the wrap of right ascension in turn, any place otherwise, turned any way. */
static inline void sky_point(struct model_options *options, int round, struct random *random)
{
    static const double special[][2] = {{0, 90},  {0, -90},       {0, 0},      {360, 0},
                                        {180, 0}, {359.9999, 60}, {0.0001, 1}, {123, -89.9999}};
    enum { SPECIAL = sizeof special / sizeof special[0] };
    double v[3];
    random_direction(random, v);
    vector_to_radec(&options->ra_deg, &options->dec_deg, v);
    if (round % 4 == 0) {
        options->ra_deg = special[round / 4 % SPECIAL][0];
        options->dec_deg = special[round / 4 % SPECIAL][1];
    }
    options->up_angle_deg = random_between(random, 0, 360);
    options->seed = random_bits(random);
}

static inline void sky_look(struct model_stars *model, const struct model_options *options)
{
    struct error err = {0};
    int code = model_star_list(model, fixture_sky(), options, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

/* Largest distance between two WCS over a grid of the picture, px. */
static inline double sky_largest_error_px(const struct wcs *wcs, const struct wcs *truth)
{
    double worst = 0;
    for (int i = 0; i < 25; i++) {
        double x = (i % 5) / 4.0 * (truth->width - 1), y = (i / 5) / 4.0 * (truth->height - 1);
        double is[3], should[3];
        wcs_direction(is, wcs, x, y);
        wcs_direction(should, truth, x, y);
        double off = vector_angle_deg(is, should) * 3600 / wcs_scale_arcsec(truth);
        worst = off > worst || isnan(off) ? off : worst;
    }
    return worst;
}

#endif
