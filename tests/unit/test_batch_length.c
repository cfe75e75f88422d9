/* How long a batch may be. What stars are widened by is held against a stack made of points. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/batch_length.h"

#include <check.h>
#include <math.h>

Suite *batch_length_suite(void);

/* A stack of frames whose stars, Gaussian and trailed, miss each other evenly along any line: the
 * root mean square over both directions, by adding points. */
START_TEST(widening_as_added_up)
{
    struct random random = {5};
    for (int round = 0; round < 50; round++) {
        double scale = random_between(&random, 0.5, 30), trail = random_between(&random, 0, 15);
        double smear = random_between(&random, 0, 10), at = random_between(&random, 0, PI);
        double sigma = hypot(3 / scale, 2) / 2.3548, sums[2] = {0}, single = 0;
        enum { STEPS = 201 };
        for (int i = 0; i < STEPS; i++) {
            for (int k = 0; k < STEPS; k++) {
                double along = ((i + 0.5) / STEPS - 0.5) * trail;
                double off = ((k + 0.5) / STEPS - 0.5) * smear;
                double x = along + off * cos(at), y = off * sin(at);
                sums[0] += (x * x + sigma * sigma) / (STEPS * STEPS);
                sums[1] += (y * y + sigma * sigma) / (STEPS * STEPS);
                single += (along * along + 2 * sigma * sigma) / (STEPS * STEPS);
            }
        }
        double widened = sqrt((sums[0] + sums[1]) / single) - 1;
        double star = batch_star_sigma_px(scale, trail);
        assert_near(star, sqrt(single / 2), 1e-3, "px");
        assert_near(batch_widening(smear, star), widened, 1e-3, "share");
        assert_near(batch_smear_px(batch_widening(smear, star), star), smear, 1e-6, "px");
    }
}
END_TEST

static struct batch_length find(const struct lens *lens, double dec_deg, double size_deg,
                                double cadence_s)
{
    struct wcs wcs;
    struct utc utc;
    struct batch_length batch;
    const struct sky_ellipse target = {
        .ra_deg = 80, .dec_deg = dec_deg, .major_deg = size_deg / 2, .minor_deg = size_deg / 2};
    const struct batch_wish wish = {
        .exposure_s = cadence_s - 1, .cadence_s = cadence_s, .accept = batch_accept_usual()};
    ck_assert(time_read(&utc, "2026-02-24T19:30:00"));
    lens_wcs(&wcs, lens, 81, dec_deg + (dec_deg < 0 ? 0.7 : -0.7), 0); /* the target is off */
    batch_length_find(&batch, &wcs, utc, &target, &wish);
    return batch;
}

/* A quarter of the width at most, whatever the camera looks at when it is asked. */
START_TEST(room)
{
    struct lens lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000};
    for (int dec = -60; dec <= 60; dec += 20) {
        struct batch_length batch = find(&lens, dec, 0.1, 3);
        double drift = 15.041 * cos(dec * RAD_PER_DEG) / 3.05;
        ck_assert_int_eq(batch.limit, BATCH_BY_ROOM);
        assert_near((double)batch.frames, floor(1500 / drift / 3), 1, "frames");
        assert_near(batch.span_s, 3 * (double)batch.frames, 1e-9, "s");
        ck_assert_int_eq((int)batch.group_frames, 0);
        ck_assert(batch.has_smear && batch.widening < 0.01);
    }
    struct batch_length tight = find(&lens, 0, 4.5, 3);
    assert_near((double)tight.frames, floor((6000 - 4.5 * 3600 / 3.05) / (15.041 / 3.05) / 3), 2,
                "frames");
}
END_TEST

/* Never under a minute for the stars' sake; then they are stacked in groups. */
START_TEST(a_lens_that_bends)
{
    struct lens lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000, .distortion = -0.02};
    struct batch_length batch = find(&lens, 0, 0.1, 3);
    ck_assert_int_eq(batch.limit, BATCH_BY_SMEAR);
    ck_assert(batch.widening <= 0.1 && batch.widening > 0.085);
    lens.distortion = -0.12;
    batch = find(&lens, 0, 0.1, 3);
    ck_assert_int_eq(batch.limit, BATCH_BY_MINUTE);
    ck_assert_int_eq((int)batch.frames, 20);
    ck_assert(batch.group_frames > 1 && batch.group_frames < 20);
    ck_assert(batch.widening > 0.1);
    lens.scale_arcsec = 0.2; /* the target itself leaves within a minute */
    batch = find(&lens, 0, 0, 3);
    ck_assert_int_eq(batch.limit, BATCH_BY_ROOM);
    ck_assert(batch.span_s < 60);
}
END_TEST

Suite *batch_length_suite(void)
{
    Suite *suite = suite_create("batch length");
    TCase *tests = tcase_create("batch length");
    tcase_add_test(tests, widening_as_added_up);
    tcase_add_test(tests, room);
    tcase_add_test(tests, a_lens_that_bends);
    suite_add_tcase(suite, tests);
    return suite;
}
