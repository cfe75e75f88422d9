/* How long a batch may be. What stars are widened by is held against fits of stacked stars. */
#include "base/least_squares.h"
#include "base/units.h"
#include "near.h"
#include "stand_fixture.h"
#include "tripod/batch_length.h"

#include <check.h>
#include <math.h>

Suite *batch_length_suite(void);

enum { SIDE = 41, STEPS = 15 };

/* Profiles of a deviation, or near it: of a Gaussian, and of what air alone makes of a star:
 * Moffat's with beta = 4.765 (Trujillo, Aguerri, Cepa, Gutierrez 2001, MNRAS 328, 977). */
static double gaussian(double square)
{
    return exp(-square / 2);
}
static double moffat(double square)
{
    return pow(1 + square / (2 * 4.765), -4.765);
}

typedef double profile_of_square(double square);

/* Spread evenly over two lengths, one to the right, the other by an angle to it. */
static void draw(double out[SIDE][SIDE], profile_of_square *profile, double step, double trail,
                 double smear, double angle)
{
    for (int row = 0; row < SIDE; row++) {
        for (int column = 0; column < SIDE; column++) {
            double x = (column - SIDE / 2) * step, y = (row - SIDE / 2) * step;
            out[row][column] = 0;
            for (int i = 0; i < STEPS * STEPS; i++) {
                double t = ((i % STEPS + 0.5) / STEPS - 0.5) * trail;
                double s = ((i / STEPS + 0.5) / STEPS - 0.5) * smear;
                double dx = x - t - s * cos(angle), dy = y - s * sin(angle);
                out[row][column] += profile(dx * dx + dy * dy) / (STEPS * STEPS);
            }
        }
    }
}

/* Root of the mean of both variances of the Gaussian that fits it best, by least squares: height
 * and variances are unknown. */
static double fitted(profile_of_square *profile, double trail, double smear, double angle)
{
    double star[SIDE][SIDE], step = 0.25 + (trail + smear) / SIDE, unknown[3] = {1, 1.5, 1.5};
    draw(star, profile, step, trail, smear, angle);
    for (int round = 0; round < 20; round++) {
        struct least_squares ls = {.n = 3};
        double change[3];
        for (int i = 0; i < SIDE * SIDE; i++) {
            double x = (i % SIDE - SIDE / 2) * step, y = (i / SIDE - SIDE / 2) * step;
            double shape = exp(-x * x / (2 * unknown[1]) - y * y / (2 * unknown[2]));
            const double row[3] = {shape,
                                   unknown[0] * shape * x * x / (2 * unknown[1] * unknown[1]),
                                   unknown[0] * shape * y * y / (2 * unknown[2] * unknown[2])};
            least_squares_add(&ls, row, star[i / SIDE][i % SIDE] - unknown[0] * shape, 1);
        }
        ck_assert(least_squares_solve(change, NULL, &ls));
        for (int k = 0; k < 3; k++) {
            unknown[k] += change[k];
        }
    }
    return sqrt((unknown[1] + unknown[2]) / 2);
}

/* Frames whose trailed stars miss each other evenly, along the trail or across it. */
static void check_widening(profile_of_square *profile, double trail, double smear, double within)
{
    double star = batch_star_sigma_px(10, 2.3548 * fitted(profile, 0, 0, 0), trail);
    double single = fitted(profile, trail, 0, 0);
    double along = fitted(profile, trail, smear, 0), across = fitted(profile, trail, smear, PI / 2);
    double widened = (along + across) / (2 * single) - 1;
    assert_near(batch_widening(smear, star) / widened, 1, within, "times");
}

START_TEST(widening_as_fitted)
{
    struct random random = {5};
    for (int round = 0; round < 6; round++) {
        double trail = random_between(&random, 0, 2), smear = random_between(&random, 0.5, 3);
        double star = hypot(1, trail / sqrt(24));
        assert_near(batch_star_sigma_px(10, 2.3548, trail), star, 1e-4, "px");
        check_widening(gaussian, trail, smear, 0.125);
        check_widening(moffat, trail, smear, 0.125);
        assert_near(batch_smear_px(batch_widening(smear, star), star), smear, 1e-6, "px");
    }
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
