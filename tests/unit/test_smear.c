/* Smear against brute force: thousands of stars in both frames, fitted by other means, and the
 * largest miss. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/smear.h"

Suite *smear_suite(void);

enum { STARS = 4000, RIM = 4000 };

struct brute {
    double from[STARS + RIM][2], to[STARS + RIM][2];
    int stars; /* that are fitted; those on the rim follow */
    int all;
};

/* A place of the first picture, if the later one shows it as well. */
static bool brute_add(struct brute *brute, const struct wcs *wcs, const double pole[3],
                      double later_s, double x, double y)
{
    double v[3], *from = brute->from[brute->all], *to = brute->to[brute->all];
    from[0] = x;
    from[1] = y;
    wcs_direction(v, wcs, x, y);
    vector_turn(v, pole, -later_s * 15.041067 / 3600);
    bool both = wcs_pixel(&to[0], &to[1], wcs, v) && wcs_inside(wcs, to[0], to[1]);
    brute->all += both;
    return both;
}

/* Stars all over the picture, and places along its rim, where misses are largest. */
static void brute_look(struct brute *brute, const struct wcs *wcs, struct utc utc, double later_s)
{
    struct random random = {77};
    double pole[3];
    horizon_pole(pole, utc);
    brute->all = 0;
    for (int i = 0; i < STARS; i++) {
        brute_add(brute, wcs, pole, later_s, random_between(&random, -0.5, wcs->width - 0.5),
                  random_between(&random, -0.5, wcs->height - 0.5));
    }
    brute->stars = brute->all;
    for (int i = 0; i < RIM; i++) {
        double along = (i / 4) / (RIM / 4 - 1.0), side = i % 2 ? 0.99999 : 0;
        double right = i % 4 < 2 ? along * 0.99999 : side,
               down = i % 4 < 2 ? side : along * 0.99999;
        brute_add(brute, wcs, pole, later_s, -0.5 + right * wcs->width, -0.5 + down * wcs->height);
    }
}

/* The largest miss after the map m (rows of a homography, the last number 1). */
static double brute_worst(double *sum, const struct brute *brute, const double m[8])
{
    double worst = 0;
    *sum = 0;
    for (int i = 0; i < brute->all; i++) {
        double x = brute->from[i][0] / 3000 - 1, y = brute->from[i][1] / 3000 - 2 / 3.0;
        double below = m[6] * x + m[7] * y + 1;
        double dx = (m[0] * x + m[1] * y + m[2]) / below - brute->to[i][0];
        double dy = (m[3] * x + m[4] * y + m[5]) / below - brute->to[i][1];
        *sum += i < brute->stars ? dx * dx + dy * dy : 0;
        worst = fmax(worst, hypot(dx, dy));
    }
    return worst;
}

/* Sum of squares at m moved by step along one number, or along two that a turn binds. */
static double brute_sum(const struct brute *brute, const double m[8], int k, double step,
                        enum smear_fit fit)
{
    double moved[8], sum;
    for (int i = 0; i < 8; i++) {
        moved[i] = m[i];
    }
    if (fit == SMEAR_TURN && k == 0) { /* the angle of a rotation */
        double c = cos(step), s = sin(step);
        moved[0] = c * m[0] - s * m[3];
        moved[3] = s * m[0] + c * m[3];
        moved[1] = c * m[1] - s * m[4];
        moved[4] = s * m[1] + c * m[4];
    } else {
        moved[k] += step;
    }
    brute_worst(&sum, brute, moved);
    return sum;
}

/* Descends one number after the other, each by the parabola through three points, until nothing
 * moves: slow and simple. */
static double brute_fit(const struct brute *brute, enum smear_fit fit)
{
    static const int free_turn[] = {0, 2, 5}, free_all[] = {0, 1, 2, 3, 4, 5, 6, 7};
    const int *open = fit == SMEAR_TURN ? free_turn : free_all;
    int numbers = fit == SMEAR_TURN ? 3 : fit == SMEAR_AFFINE ? 6 : 8;
    double m[8] = {3000, 0, 3000, 0, 3000, 2000, 0, 0}, sum;
    for (int round = 0; round < 3000; round++) {
        double moved = 0;
        for (int n = 0; n < numbers; n++) {
            int k = open[n];
            double h = k >= 6 || (fit == SMEAR_TURN && k == 0) ? 1e-6 : 1e-2;
            double low = brute_sum(brute, m, k, -h, fit), here = brute_sum(brute, m, k, 0, fit);
            double high = brute_sum(brute, m, k, h, fit);
            double step = h * (low - high) / (2 * (low - 2 * here + high));
            if (fit == SMEAR_TURN && k == 0) {
                double c = cos(step), s = sin(step), a = m[0], b = m[1];
                m[0] = c * a - s * m[3];
                m[3] = s * a + c * m[3];
                m[1] = c * b - s * m[4];
                m[4] = s * b + c * m[4];
            } else {
                m[k] += step;
            }
            moved = fmax(moved, fabs(step) / h);
        }
        if (moved < 1e-3) {
            break;
        }
    }
    return brute_worst(&sum, brute, m);
}

static void check_smear(const struct wcs *wcs, struct utc utc, double later_s)
{
    static struct brute brute;
    struct smear smear;
    ck_assert(smear_measure(&smear, wcs, utc, later_s));
    brute_look(&brute, wcs, utc, later_s);
    ck_assert(brute.stars > 1000);
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        double worst = brute_fit(&brute, (enum smear_fit)fit);
        /* The largest miss is at the rim of what both show; cells are 4 % of the width, so that the
         * later picture's rim is met to 2 % only. */
        assert_near(smear.worst_px[fit] / worst, 1, 0.06, smear_fit_word((enum smear_fit)fit));
    }
}

START_TEST(smear_is_what_brute_force_finds)
{
    struct random random = {15};
    for (int i = 0; i < 3; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct wcs wcs = tripod_wcs(&tripod, 0);
        check_smear(&wcs, tripod.utc, 200);
    }
}
END_TEST

START_TEST(a_perfect_lens_leaves_nothing_to_a_homography)
{
    struct random random = {17};
    for (int i = 0; i < 10; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct smear smear;
        tripod.lens.distortion = 0;
        struct wcs wcs = tripod_wcs(&tripod, 0);
        ck_assert(smear_measure(&smear, &wcs, tripod.utc, 300));
        assert_near(smear.worst_px[SMEAR_HOMOGRAPHY], 0, 1e-6, "px");
        assert_near(smear_time(&wcs, tripod.utc, SMEAR_HOMOGRAPHY, 1, 400), 400, 0, "s");
    }
}
END_TEST

START_TEST(the_time_is_when_the_limit_is_met)
{
    struct random random = {19};
    for (int i = 0; i < 6; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct wcs wcs = tripod_wcs(&tripod, 0);
        for (int fit = 0; fit < SMEAR_FITS; fit++) {
            double when = smear_time(&wcs, tripod.utc, (enum smear_fit)fit, 1, 7200);
            struct smear smear;
            ck_assert(when > 1);
            if (when < 7200 && smear_measure(&smear, &wcs, tripod.utc, when)) {
                assert_near(smear.worst_px[fit], 1, 0.01, "px");
            }
        }
    }
}
END_TEST

START_TEST(frames_with_nothing_in_common_have_no_smear)
{
    struct random random = {21};
    struct tripod tripod = tripod_anywhere(&random);
    struct smear smear;
    tripod.place.latitude_deg = 50;
    tripod.azimuth_deg = 180;
    struct wcs wcs = tripod_wcs(&tripod, 0);
    ck_assert(!smear_measure(&smear, &wcs, tripod.utc, 7200));
}
END_TEST

Suite *smear_suite(void)
{
    Suite *suite = suite_create("smear");
    TCase *tests = tcase_create("smear");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, smear_is_what_brute_force_finds);
    tcase_add_test(tests, a_perfect_lens_leaves_nothing_to_a_homography);
    tcase_add_test(tests, the_time_is_when_the_limit_is_met);
    tcase_add_test(tests, frames_with_nothing_in_common_have_no_smear);
    suite_add_tcase(suite, tests);
    return suite;
}
