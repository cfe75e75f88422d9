/* tests/unit/night_fixture.h: frames of made-up nights. */
#ifndef ALIDADE_TESTS_NIGHT_FIXTURE_H
#define ALIDADE_TESTS_NIGHT_FIXTURE_H

#include "base/text.h"
#include "night/review.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>

/* A frame of a fixed tripod, seconds after the night's begin: north up, 3 x 2 degrees, 6 arcsec a
 * pixel; the sky moves to the right by 15.041 arcsec a second. */
static inline struct night_frame night_fixture_frame(const char *name, double seconds,
                                                     double ra_deg)
{
    struct night_frame frame = {.read = true,
                                .solved = true,
                                .width = 1800,
                                .height = 1200,
                                .exposure_s = 2,
                                .iso = 800,
                                .ra_deg = ra_deg,
                                .dec_deg = 0,
                                .field_width_deg = 3,
                                .field_height_deg = 2,
                                .scale_arcsec = 6,
                                .detected = 400};
    struct utc start = {2461096, 0.25}; /* 2026 February 25, 18 h UTC */
    health_read_json(&frame.health, NULL);
    frame.health.fwhm_px = 2.5;
    frame.health.trail_px = 5;
    frame.health.sky_level = 100;
    frame.says = text_copy("good");
    snprintf(frame.format, sizeof frame.format, "JPEG");
    frame.start_utc = time_stamp_utc(time_add(start, seconds), 2);
    frame.name = text_copy(name);
    return frame;
}

static inline struct review *night_fixture_review(struct night_list *list,
                                                  const struct aim_target *target)
{
    struct review *review = calloc(1, sizeof *review);
    struct error err = {0};
    ck_assert_ptr_nonnull(review);
    ck_assert_int_eq(review_make(review, list, target, NULL, &err), 0);
    return review;
}

static inline void night_fixture_free(struct review *review, struct night_list *list)
{
    review_free(review);
    free(review);
    night_list_free(list);
}

#endif
