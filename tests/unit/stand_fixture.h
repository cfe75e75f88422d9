/* tests/unit/stand_fixture.h: cameras on tripods, pointed as the renderer points them. */
#ifndef ALIDADE_TESTS_STAND_FIXTURE_H
#define ALIDADE_TESTS_STAND_FIXTURE_H

#include "base/random.h"
#include "base/units.h"
#include "demo/render.h"
#include "sky/vector.h"
#include "tripod/stand.h"

#include <check.h>
#include <math.h>

/* A camera on a tripod somewhere, and what a picture of it shows at any time. */
struct tripod {
    struct place place;
    struct utc utc;
    double azimuth_deg, altitude_deg, roll_deg;
    struct lens lens;
};

/* 6000 x 4000 px, 5 degrees wide, bent like the demo's lens; any place, time and direction. */
static inline struct tripod tripod_anywhere(struct random *random)
{
    struct tripod tripod = {
        .place = {.latitude_deg = random_between(random, -80, 80),
                  .longitude_deg = random_between(random, -180, 180)},
        .azimuth_deg = random_between(random, 0, 360),
        .altitude_deg = random_between(random, 10, 85),
        .roll_deg = random_between(random, -40, 40),
        .lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000, .distortion = -0.006}};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    tripod.utc = time_add(tripod.utc, random_between(random, 0, 300 * 86400.0));
    return tripod;
}

/* The true WCS of a picture whose exposure is half over later_s seconds later. */
static inline struct wcs tripod_wcs(const struct tripod *tripod, double later_s)
{
    struct render_options options = render_options_typical();
    struct utc start = time_add(tripod->utc, later_s - options.camera.exposure_s / 2);
    struct wcs wcs;
    ck_assert(render_point_tripod(&options, &tripod->place, start, tripod->azimuth_deg,
                                  tripod->altitude_deg, tripod->roll_deg));
    lens_wcs(&wcs, &tripod->lens, options.ra_deg, options.dec_deg, options.up_angle_deg);
    return wcs;
}

/* What the first picture tells, with the place known or not. */
static inline struct stand tripod_stand(const struct tripod *tripod, bool with_place)
{
    struct stand stand;
    struct ground ground;
    struct wcs wcs = tripod_wcs(tripod, 0);
    ck_assert(ground_make(&ground, with_place ? &tripod->place : NULL, tripod->utc));
    stand_make(&stand, &wcs, &ground);
    return stand;
}

#endif
