/* Smear against brute force: thousands of stars in three frames, fitted by other means, and the
 * largest spread of a star over them. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/smear.h"

#include <string.h>

Suite *smear_suite(void);

enum { STARS = 4000, RIM = 12000 };

/* The first frame, the last, the one in the middle. */
struct brute {
    double at[3][STARS + RIM][2];
    bool seen[3][STARS + RIM];
    int stars; /* that are fitted where both show them; those on the rims follow */
    int all, common;
    int end; /* which is fitted to the middle */
};

/* A place of one of the pictures. */
static void brute_add(struct brute *brute, const struct wcs *wcs, const double pole[3],
                      double span_s, int shown, double x, double y)
{
    const double when[3] = {-span_s / 2, span_s / 2, 0};
    int all = brute->all++;
    double sky[3], v[3];
    wcs_direction(sky, wcs, x, y);
    for (int i = 0; i < 3; i++) {
        double *at = brute->at[i][all];
        memcpy(v, sky, sizeof v);
        vector_turn(v, pole, -(when[i] - when[shown]) * 15.041067 / 3600);
        brute->seen[i][all] = wcs_pixel(&at[0], &at[1], wcs, v) && wcs_inside(wcs, at[0], at[1]);
    }
}

/* Stars all over the middle picture, and places along the rims of all, where misses are largest. */
static void brute_look(struct brute *brute, const struct wcs *wcs, struct utc utc, double span_s)
{
    struct random random = {77};
    double pole[3];
    horizon_pole(pole, utc);
    brute->all = brute->common = 0;
    for (int i = 0; i < STARS; i++) {
        brute_add(brute, wcs, pole, span_s, 2, random_between(&random, -0.5, wcs->width - 0.5),
                  random_between(&random, -0.5, wcs->height - 0.5));
        brute->common += brute->seen[0][i] && brute->seen[1][i];
    }
    brute->stars = brute->all;
    for (int i = 0; i < RIM; i++) {
        double along = (i / 12) / (RIM / 12 - 1.0), side = i % 2 ? 0.99999 : 0;
        double right = i % 4 < 2 ? along * 0.99999 : side,
               down = i % 4 < 2 ? side : along * 0.99999;
        brute_add(brute, wcs, pole, span_s, i % 12 / 4, -0.5 + right * wcs->width,
                  -0.5 + down * wcs->height);
    }
}

/* Where the map m (rows of a homography, the last number 1) has a star beside the middle frame. */
static void brute_miss(double miss[2], const struct brute *brute, int i, const double m[8])
{
    const double *from = brute->at[brute->end][i], *to = brute->at[2][i];
    double x = from[0] / 3000 - 1, y = from[1] / 3000 - 2 / 3.0;
    double below = m[6] * x + m[7] * y + 1;
    miss[0] = (m[0] * x + m[1] * y + m[2]) / below - to[0];
    miss[1] = (m[3] * x + m[4] * y + m[5]) / below - to[1];
}

static double brute_sum_at(const struct brute *brute, const double m[8])
{
    double sum = 0, miss[2];
    for (int i = 0; i < brute->stars; i++) {
        if (brute->seen[brute->end][i]) {
            brute_miss(miss, brute, i, m);
            sum += miss[0] * miss[0] + miss[1] * miss[1];
        }
    }
    return sum;
}

/* Sum of squares at m moved by step along one number, or along two that a turn binds. */
static double brute_sum(const struct brute *brute, const double m[8], int k, double step,
                        enum smear_fit fit)
{
    double moved[8];
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
    return brute_sum_at(brute, moved);
}

/* Descends one number after the other, each by the parabola through three points, until nothing
 * moves: slow and simple. */
static void brute_fit(double m[8], const struct brute *brute, enum smear_fit fit)
{
    static const int free_turn[] = {0, 2, 5}, free_all[] = {0, 1, 2, 3, 4, 5, 6, 7};
    const int *open = fit == SMEAR_TURN ? free_turn : free_all;
    int numbers = fit == SMEAR_TURN ? 3 : fit == SMEAR_AFFINE ? 6 : 8;
    const double start[8] = {3000, 0, 3000, 0, 3000, 2000, 0, 0};
    memcpy(m, start, sizeof start);
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
}

/* Root of twelve times the variance of a parabola's places, in many steps; without an end, of the
 * half that is a line. */
static double brute_spread(double miss[2][2], const bool seen[2])
{
    enum { STEPS = 200 };
    double sum[2] = {0}, squares = 0;
    for (int i = 0; i < STEPS; i++) {
        double t = (2 * i + 1.0) / STEPS - 1, at;
        for (int k = 0; k < 2; k++) {
            double straight = (miss[1][k] - miss[0][k]) / 2, bent = (miss[1][k] + miss[0][k]) / 2;
            at = seen[0] && seen[1] ? straight * t + bent * t * t : miss[seen[1]][k] * (t + 1) / 2;
            sum[k] += at / STEPS;
            squares += at * at / STEPS;
        }
    }
    return sqrt(12 * (squares - sum[0] * sum[0] - sum[1] * sum[1]));
}

/* Of stars in the middle frame. */
static double brute_worst(struct brute *brute, enum smear_fit fit)
{
    double m[2][8], worst = 0;
    for (brute->end = 0; brute->end < 2; brute->end++) {
        brute_fit(m[brute->end], brute, fit);
    }
    for (int i = 0; i < brute->all; i++) {
        const bool seen[2] = {brute->seen[0][i], brute->seen[1][i]};
        double miss[2][2];
        for (brute->end = 0; brute->end < 2; brute->end++) {
            brute_miss(miss[brute->end], brute, i, m[brute->end]);
        }
        if (brute->seen[2][i] && (seen[0] || seen[1])) {
            worst = fmax(worst, brute_spread(miss, seen));
        }
    }
    return worst;
}

static void check_smear(const struct wcs *wcs, struct utc utc, double span_s)
{
    static struct brute brute;
    struct smear smear;
    ck_assert(smear_measure(&smear, wcs, utc, span_s));
    brute_look(&brute, wcs, utc, span_s);
    ck_assert(brute.common > 1000);
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        double worst = brute_worst(&brute, (enum smear_fit)fit);
        /* Cells at the rim count less and less here, and all or not at all there. */
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
