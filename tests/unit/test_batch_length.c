/* How long a batch may be. What stars are widened by is held against fits of stacked stars. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/batch_length.h"

#include <check.h>
#include <math.h>

Suite *batch_length_suite(void);

/* A star in one direction: a Gaussian, spread evenly over two lengths one after the other. */
static double profile(double x, double sigma, double trail, double smear)
{
    enum { STEPS = 15 };
    double sum = 0;
    for (int i = 0; i < STEPS; i++) {
        for (int k = 0; k < STEPS; k++) {
            double off = x - ((i + 0.5) / STEPS - 0.5) * trail - ((k + 0.5) / STEPS - 0.5) * smear;
            sum += exp(-off * off / (2 * sigma * sigma)) / (STEPS * STEPS);
        }
    }
    return sum;
}

/* Variance of the Gaussian that fits it best, by least squares: two unknowns, height and variance.
 */
static double fitted(double sigma, double trail, double smear)
{
    double variance = sigma * sigma + (trail * trail + smear * smear) / 12, height = 1;
    double reach = 4 * sqrt(variance);
    for (int round = 0; round < 8; round++) {
        double hh = 0, hv = 0, vv = 0, h = 0, v = 0;
        for (double x = -reach; x <= reach; x += reach / 40) {
            double shape = exp(-x * x / (2 * variance));
            double slope = height * shape * x * x / (2 * variance * variance);
            double off = profile(x, sigma, trail, smear) - height * shape;
            hh += shape * shape;
            hv += shape * slope;
            vv += slope * slope;
            h += shape * off;
            v += slope * off;
        }
        height += (vv * h - hv * v) / (hh * vv - hv * hv);
        variance += (hh * v - hv * h) / (hh * vv - hv * hv);
    }
    return variance;
}

/* A stack of frames whose stars, Gaussian and trailed, miss each other evenly, along the trail or
 * across it, by up to what a batch may: against Gaussians fitted to such stars. */
START_TEST(widening_as_fitted)
{
    struct random random = {5};
    for (int round = 0; round < 8; round++) {
        double scale = random_between(&random, 0.5, 30), width = random_between(&random, 1.8, 5);
        double sigma = width / 2.3548, trail = random_between(&random, 0, 2) * sigma;
        double star = batch_star_sigma_px(scale, width, trail);
        double smear = random_between(&random, 0, 5) * star;
        double single = fitted(sigma, 0, 0) + fitted(sigma, trail, 0);
        double along = fitted(sigma, 0, 0) + fitted(sigma, trail, smear);
        double across = fitted(sigma, 0, smear) + fitted(sigma, trail, 0);
        double widened = (sqrt(along / single) + sqrt(across / single)) / 2 - 1;
        assert_near(star, sqrt(sigma * sigma + trail * trail / 24), 1e-4, "px");
        assert_near(batch_widening(smear, star), widened, 0.05 * widened + 1e-4, "share");
        assert_near(batch_smear_px(batch_widening(smear, star), star), smear, 1e-6, "px");
    }
    /* Spread over two deviations, near what is accepted as usual: to a hundredth. */
    double single = fitted(1, 0, 0), spread = fitted(1, 0, 2);
    double widened = sqrt((single + spread) / (2 * single)) - 1;
    assert_near(batch_widening(2, 1), widened, 0.01 * widened, "share");
    /* Where nobody knows how wide stars are: 3 arcsec and 2 px. */
    assert_near(batch_star_sigma_px(3, 0, 0), sqrt(5) / 2.3548, 1e-4, "px");
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

/* Of a target that fills the frame, a twentieth of the width may be lost all the same: else the
 * camera would be turned without end. */
START_TEST(room_for_what_fills_the_frame)
{
    struct lens lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000};
    struct batch_length full = find(&lens, 0, 5.2, 3); /* of 5.08 degrees */
    ck_assert_int_eq(full.limit, BATCH_BY_ROOM);
    assert_near((double)full.frames, floor(6000 * 0.05 / (15.041 / 3.05) / 3), 1, "frames");
}
END_TEST

/* A quarter of the width takes an hour where the sky drifts by 1500 px in 3600 s, 1.27 arcsec a
 * second: at the declination whose cosine is that over 15.041. A tenth nearer to the equator the
 * room ends the batch, a tenth nearer to the pole the hour does. */
START_TEST(an_hour_at_most)
{
    struct lens lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000};
    double edge = 1500 * 3.05 / 3600 / 15.041;
    struct batch_length batch = find(&lens, acos(1.1 * edge) / RAD_PER_DEG, 0.1, 3);
    ck_assert_int_eq(batch.limit, BATCH_BY_ROOM);
    assert_near(batch.span_s, 3600 / 1.1, 40, "s");
    batch = find(&lens, acos(0.9 * edge) / RAD_PER_DEG, 0.1, 3);
    ck_assert_int_eq(batch.limit, BATCH_BY_HOUR);
    assert_near(batch.span_s, 3600, 3, "s");
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
    tcase_add_test(tests, widening_as_fitted);
    tcase_add_test(tests, room);
    tcase_add_test(tests, room_for_what_fills_the_frame);
    tcase_add_test(tests, an_hour_at_most);
    tcase_add_test(tests, a_lens_that_bends);
    suite_add_tcase(suite, tests);
    return suite;
}
