#include "match/pose.h"

#include "base/random.h"
#include "base/units.h"
#include "match/pose_fit.h"
#include "near.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

Suite *pose_suite(void);

enum { ROUNDS = 1000 };

static const double half_diagonal = 3600; /* of 6000 x 4000 px, about */
static const struct pose_axis middle = {0, 0};
static const struct pose_prior usual = {0.02, 100};

/* Poles and the wrap of right ascension in turn, any place otherwise. */
static void place_of_round(double v[3], int round, struct random *random)
{
    static const double special[][2] = {{0, 90},  {0, -90},       {0, 0},      {360, 0},
                                        {180, 0}, {359.9999, 89}, {0.0001, 1}, {123, 89.9999}};
    enum { SPECIAL = sizeof special / sizeof special[0] };
    if (round % 4 == 0) {
        vector_from_radec(v, special[round / 4 % SPECIAL][0], special[round / 4 % SPECIAL][1]);
    } else {
        random_direction(random, v);
    }
}

/* A camera of 4 to 70 degrees across looking at the place of the round, turned any way. */
static void make_pose(struct pose *pose, int round, struct random *random, double distortion)
{
    double other[3];
    *pose = (struct pose){.half_diagonal = half_diagonal, .distortion = distortion};
    pose->focal_px = half_diagonal * exp(random_between(random, log(1.4), log(30)));
    pose->x = random_between(random, -200, 200);
    pose->y = random_between(random, -200, 200);
    place_of_round(pose->axis[2], round, random);
    random_direction(random, other);
    vector_cross(pose->axis[0], pose->axis[2], other);
    vector_normalise(pose->axis[0]);
    vector_cross(pose->axis[1], pose->axis[2], pose->axis[0]);
}

static void random_pixel(double p[2], struct random *random)
{
    p[0] = random_between(random, -3000, 3000);
    p[1] = random_between(random, -2000, 2000);
}

static void assert_orthonormal(double axis[3][3])
{
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k <= i; k++) {
            assert_near(vector_dot(axis[i], axis[k]), i == k, 1e-12, "1");
        }
    }
    double normal[3];
    vector_cross(normal, axis[0], axis[1]);
    assert_near(vector_dot(normal, axis[2]), 1, 1e-12, "1");
}

/* Pixel to sky to pixel, and sky to pixel to sky; lenses bent by up to 6 % in the corner. */
START_TEST(test_project_and_direction_are_inverse)
{
    struct random random = {1};
    for (int round = 0; round < ROUNDS; round++) {
        struct pose pose;
        double p[2], back[2], v[3], again[3];
        make_pose(&pose, round, &random, random_between(&random, -0.06, 0.06));
        random_pixel(p, &random);
        pose_direction(v, &pose, p);
        assert_near(vector_dot(v, v), 1, 1e-12, "1");
        ck_assert(pose_project(back, NULL, &pose, v));
        /* The iteration of pose_direction gains a factor 5 and more in each of its 20 rounds. */
        assert_near(back[0], p[0], 1e-6, "px");
        assert_near(back[1], p[1], 1e-6, "px");
        pose_direction(again, &pose, back);
        for (int i = 0; i < 3; i++) {
            assert_near(again[i], v[i], 1e-9, "rad");
        }
    }
}
END_TEST

/* Each column of the jacobian against the difference quotient of pose_move. */
START_TEST(test_jacobian)
{
    static const double step[POSE_SIZE] = {1e-6, 1e-6, 1e-6, 1e-6, 1e-6, 0.01, 0.01};
    struct random random = {2};
    for (int round = 0; round < ROUNDS; round++) {
        struct pose pose;
        double p[2], v[3], jacobian[2][POSE_SIZE];
        make_pose(&pose, round, &random, random_between(&random, -0.06, 0.06));
        random_pixel(p, &random);
        pose_direction(v, &pose, p);
        ck_assert(pose_project(p, jacobian, &pose, v));
        for (int i = 0; i < POSE_SIZE; i++) {
            struct pose before = pose, after = pose;
            double move[POSE_SIZE] = {0}, p1[2], p2[2];
            move[i] = -step[i];
            pose_move(&before, move);
            move[i] = step[i];
            pose_move(&after, move);
            ck_assert(pose_project(p1, NULL, &before, v) && pose_project(p2, NULL, &after, v));
            for (int k = 0; k < 2; k++) {
                /* Pixels are good to 1e-10: over the step 1e-4, against up to 1e5 px a radian. */
                double scale = i < 5 ? pose.focal_px : 1;
                assert_near((p2[k] - p1[k]) / (2 * step[i]) / scale, jacobian[k][i] / scale, 1e-6,
                            "1");
            }
        }
    }
}
END_TEST

/* A pose from two stars shows both where they were seen, with the axis where it was said to be. */
START_TEST(test_two_stars)
{
    struct random random = {3};
    for (int round = 0; round < ROUNDS; round++) {
        struct pose truth, pose;
        double v[2][3], p[2][2], seen[2];
        struct pose_axis axis = {round % 2 ? random_between(&random, 0.1, 0.7) : 0,
                                 random_between(&random, 0, 2 * PI)};
        make_pose(&truth, round, &random, 0);
        do {
            random_pixel(p[0], &random);
            random_pixel(p[1], &random);
        } while (hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]) < 50);
        pose_direction(v[0], &truth, p[0]);
        pose_direction(v[1], &truth, p[1]);
        if (!pose_from_two(&pose, v, p, half_diagonal, &axis, &usual)) {
            /* Far apart and far off the axis at once there may be no such camera. */
            ck_assert(axis.angle > 0 && vector_angle_deg(v[0], v[1]) > 15);
            continue;
        }
        assert_orthonormal(pose.axis);
        for (int i = 0; i < 2; i++) {
            ck_assert(pose_project(seen, NULL, &pose, v[i]));
            /* The focal length is found to 1e-5 at worst, the orientation exactly. */
            assert_near(seen[0], p[i][0], 0.05, "px");
            assert_near(seen[1], p[i][1], 0.05, "px");
        }
        double x = pose.x - 0.5 * (p[0][0] + p[1][0]), y = pose.y - 0.5 * (p[0][1] + p[1][1]);
        if (axis.angle == 0) {
            ck_assert(pose.x == 0 && pose.y == 0);
        } else {
            assert_near(atan(hypot(x, y) / pose.focal_px), axis.angle, 1e-9, "rad");
            assert_near_turn(atan2(y, x) * DEG_PER_RAD, axis.direction * DEG_PER_RAD, 1e-6);
        }
    }
}
END_TEST

/* With the axis truly in the middle, two stars give the whole pose. */
START_TEST(test_two_stars_give_the_camera)
{
    struct random random = {4};
    for (int round = 0; round < ROUNDS; round++) {
        struct pose truth, pose;
        double v[2][3], p[2][2];
        make_pose(&truth, round, &random, 0);
        truth.x = truth.y = 0;
        for (int i = 0; i < 2; i++) {
            p[i][0] = random_between(&random, 200, 1500) * (i ? 1 : -1);
            p[i][1] = random_between(&random, -1000, 1000);
            pose_direction(v[i], &truth, p[i]);
        }
        ck_assert(pose_from_two(&pose, v, p, half_diagonal, &middle, &usual));
        assert_near(pose.focal_px / truth.focal_px, 1, 1e-7, "ratio");
        for (int i = 0; i < 3; i++) {
            assert_near(vector_angle_deg(pose.axis[i], truth.axis[i]), 0, 1e-5, "deg");
        }
    }
}
END_TEST

START_TEST(test_two_stars_that_make_no_pose)
{
    struct pose pose;
    double same[2][3] = {{1, 0, 0}, {1, 0, 0}}, p[2][2] = {{0, 0}, {500, 0}};
    ck_assert(!pose_from_two(&pose, same, p, half_diagonal, &middle, &usual));
    double far[2][3] = {{1, 0, 0}, {-0.3, 1, 0}};
    vector_normalise(far[1]);
    ck_assert(!pose_from_two(&pose, far, p, half_diagonal, &middle, &usual));
    double apart[2][3] = {{1, 0, 0}, {1, 0.1, 0}}, one_pixel[2][2] = {{7, 7}, {7, 7}};
    vector_normalise(apart[1]);
    ck_assert(!pose_from_two(&pose, apart, one_pixel, half_diagonal, &middle, &usual));
    ck_assert(pose_from_two(&pose, apart, p, half_diagonal, &middle, &usual));
    double unclear[2][3] = {{NAN, 0, 0}, {1, 0.1, 0}};
    ck_assert(!pose_from_two(&pose, unclear, p, half_diagonal, &middle, &usual));
}
END_TEST

START_TEST(test_what_cannot_be_seen)
{
    struct random random = {5};
    struct pose pose;
    make_pose(&pose, 1, &random, 0);
    for (int degrees = 0; degrees <= 180; degrees += 2) {
        double v[3], p[2];
        for (int i = 0; i < 3; i++) {
            v[i] = cos(degrees * RAD_PER_DEG) * pose.axis[2][i] +
                   sin(degrees * RAD_PER_DEG) * pose.axis[0][i];
        }
        ck_assert_int_eq(pose_project(p, NULL, &pose, v), degrees < 75);
    }
    /* Barrel distortion of 20 % in the corner turns back on itself at 1.3 half diagonals. */
    pose.distortion = -0.2;
    pose.focal_px = half_diagonal;
    double v[3], p[2];
    for (int i = 0; i < 3; i++) {
        v[i] = pose.axis[2][i] + 1.5 * pose.axis[0][i];
    }
    vector_normalise(v);
    ck_assert(!pose_project(p, NULL, &pose, v));
}
END_TEST

START_TEST(test_moving_keeps_the_axes)
{
    struct random random = {6};
    struct pose pose;
    make_pose(&pose, 0, &random, 0);
    for (int i = 0; i < 20000; i++) {
        double step[POSE_SIZE];
        for (int k = 0; k < POSE_SIZE; k++) {
            step[k] = random_between(&random, -0.3, 0.3);
        }
        pose_move(&pose, step);
    }
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k <= i; k++) {
            /* 20,000 turns, each good to 2e-16. */
            assert_near(vector_dot(pose.axis[i], pose.axis[k]), i == k, 1e-11, "1");
        }
    }
}
END_TEST

/* A small turn about right, down and out moves the picture as the header says. */
START_TEST(test_meaning_of_the_turns)
{
    struct pose pose = {
        .axis = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, .focal_px = 1000, .half_diagonal = 1000};
    for (int i = 0; i < 3; i++) {
        struct pose turned = pose;
        double step[POSE_SIZE] = {0};
        const double v[3] = {0, 0, 1};
        double p[2];
        step[i] = 0.001;
        pose_move(&turned, step);
        ck_assert(pose_project(p, NULL, &turned, v));
        assert_near(hypot(p[0], p[1]), i < 2 ? 1 : 0, 1e-5, "px");
        assert_near(fabs(p[i == 0]), i < 2 ? 1 : 0, 1e-5, "px");
    }
}
END_TEST

/* Stars scattered over the picture of a known camera with usual errors. */
enum { SEEN = 30 };
static const double error_px = 0.3;

struct sky_seen {
    struct pose truth, start;
    double v[SEEN][3], p[SEEN][2];
};

static void see(struct sky_seen *s, int round, struct random *random)
{
    make_pose(&s->truth, round, random, 0.005);
    s->truth.x = 30;
    s->truth.y = -20;
    for (int i = 0; i < SEEN; i++) {
        random_pixel(s->p[i], random);
        if (i < 2) {
            s->p[i][0] = i ? 1800 : -1700;
        }
        pose_direction(s->v[i], &s->truth, s->p[i]);
        s->p[i][0] += error_px * random_normal(random);
        s->p[i][1] += error_px * random_normal(random);
    }
    ck_assert(pose_from_two(&s->start, s->v, s->p, half_diagonal, &middle, &usual));
}

static void take_all(struct pose *pose, const struct sky_seen *s)
{
    for (int i = 0; i < SEEN; i++) {
        double predicted[2], jacobian[2][POSE_SIZE];
        ck_assert(pose_project(predicted, jacobian, pose, s->v[i]));
        const double residual[2] = {s->p[i][0] - predicted[0], s->p[i][1] - predicted[1]};
        pose_update(pose, jacobian, residual, error_px * error_px);
    }
}

static void fit_all(struct pose *pose, const struct sky_seen *s)
{
    struct pair pairs[SEEN] = {{0}};
    const struct star_list list = {.width = 1, .height = 1};
    struct pair_finder finder = {.list = &list, .pair = pairs, .pairs = SEEN};
    for (int i = 0; i < SEEN; i++) {
        memcpy(pairs[i].v, s->v[i], sizeof pairs[i].v);
        pairs[i].x = s->p[i][0];
        pairs[i].y = s->p[i][1];
    }
    ck_assert(pose_fit(pose, &finder, error_px, &usual));
}

/* What standard deviations the seven numbers have. */
static double deviation(const struct pose *pose, int i)
{
    return sqrt(pose->covariance[i][i]);
}

/* Star by star (Kalman filter) or all at once (least squares): the same pose, the same covariance.
 * The robust weights of pose_fit pull a little at stars that are two or three errors off, so the
 * poses agree to a deviation, not to rounding. */
START_TEST(test_star_by_star_or_all_at_once)
{
    struct random random = {7};
    for (int round = 0; round < 100; round++) {
        struct sky_seen s;
        see(&s, round, &random);
        struct pose filtered = s.start, fitted = s.start;
        take_all(&filtered, &s);
        fit_all(&fitted, &s);
        assert_orthonormal(filtered.axis);
        for (int k = 0; k < 3; k++) {
            for (int i = 0; i < 2; i++) {
                double off = vector_dot(filtered.axis[k], fitted.axis[(k + 1 + i) % 3]);
                double unit = deviation(&fitted, 0) + deviation(&fitted, 1) + deviation(&fitted, 2);
                assert_near(off / unit, 0, 1.5, "standard deviations");
            }
        }
        assert_near(log(filtered.focal_px / fitted.focal_px) / deviation(&fitted, 3), 0, 1.5,
                    "standard deviations");
        assert_near((filtered.distortion - fitted.distortion) / deviation(&fitted, 4), 0, 1.5,
                    "standard deviations");
        for (int i = 0; i < POSE_SIZE; i++) {
            double ratio = deviation(&filtered, i) / deviation(&fitted, i);
            /* Robust weights are about 2/3, so the fit claims 1.2 times the deviation. */
            ck_assert_msg(ratio > 0.7 && ratio < 1.05, "deviation %d: ratio %g", i, ratio);
            for (int k = 0; k < i; k++) {
                double unit = deviation(&filtered, i) * deviation(&filtered, k);
                assert_near(filtered.covariance[i][k] / unit, filtered.covariance[k][i] / unit,
                            1e-6, "correlation");
            }
        }
    }
}
END_TEST

/* The stated covariance is the scatter that is found: chi square of the seven numbers over many
 * skies. Mean 7, deviation sqrt(14/rounds). */
START_TEST(test_covariance_is_honest)
{
    enum { SKIES = 400 };
    struct random random = {8};
    double sum[POSE_SIZE] = {0};
    for (int round = 0; round < SKIES; round++) {
        struct sky_seen s;
        see(&s, round, &random);
        struct pose pose = s.start;
        take_all(&pose, &s);
        /* A small turn w in camera axes: axis_i of the truth seen in the pose's axes. */
        const double off[POSE_SIZE] = {vector_dot(s.truth.axis[2], pose.axis[1]),
                                       vector_dot(s.truth.axis[0], pose.axis[2]),
                                       vector_dot(s.truth.axis[1], pose.axis[0]),
                                       log(pose.focal_px / s.truth.focal_px),
                                       pose.distortion - s.truth.distortion,
                                       pose.x - s.truth.x,
                                       pose.y - s.truth.y};
        for (int i = 0; i < POSE_SIZE; i++) {
            sum[i] += off[i] * off[i] / pose.covariance[i][i];
        }
    }
    for (int i = 0; i < POSE_SIZE; i++) {
        /* Mean square of 400 normal deviates: 1 +- 0.07; four deviations are allowed. */
        assert_near(sum[i] / SKIES, 1, 0.28, "variance, stated");
    }
}
END_TEST

/* px spread: the jacobian's quadratic form with the covariance, which an update lowers. */
START_TEST(test_spread)
{
    struct random random = {9};
    for (int round = 0; round < 50; round++) {
        struct sky_seen s;
        see(&s, round, &random);
        struct pose pose = s.start;
        for (int i = 0; i < SEEN; i++) {
            double p[2], jacobian[2][POSE_SIZE], spread[3], after[3], want[3] = {0};
            ck_assert(pose_project(p, jacobian, &pose, s.v[i]));
            pose_spread(spread, &pose, jacobian);
            for (int k = 0; k < POSE_SIZE * POSE_SIZE; k++) {
                int a = k / POSE_SIZE, b = k % POSE_SIZE;
                want[0] += jacobian[0][a] * pose.covariance[a][b] * jacobian[0][b];
                want[1] += jacobian[0][a] * pose.covariance[a][b] * jacobian[1][b];
                want[2] += jacobian[1][a] * pose.covariance[a][b] * jacobian[1][b];
            }
            for (int k = 0; k < 3; k++) {
                assert_near(spread[k], want[k], 1e-9 * (fabs(want[0]) + fabs(want[2])), "px^2");
            }
            const double residual[2] = {s.p[i][0] - p[0], s.p[i][1] - p[1]};
            pose_update(&pose, jacobian, residual, error_px * error_px);
            pose_spread(after, &pose, jacobian);
            ck_assert(after[0] < 1.01 * error_px * error_px &&
                      after[2] < 1.01 * error_px * error_px);
        }
    }
}
END_TEST

/* Two stars leave the rest open: the fit must say so, and keep the pose. */
START_TEST(test_fit_needs_stars)
{
    struct random random = {10};
    struct sky_seen s;
    see(&s, 1, &random);
    struct pose pose = s.start;
    struct pair pairs[1] = {{.x = s.p[0][0], .y = s.p[0][1]}};
    const struct star_list list = {.width = 1, .height = 1};
    struct pair_finder finder = {.list = &list, .pair = pairs, .pairs = 1};
    memcpy(pairs[0].v, s.v[0], sizeof pairs[0].v);
    ck_assert(!pose_fit(&pose, &finder, 1, &usual));
    ck_assert_mem_eq(&pose, &s.start, sizeof pose);
}
END_TEST

Suite *pose_suite(void)
{
    Suite *suite = suite_create("pose");
    TCase *tests = tcase_create("where the camera points");
    tcase_add_test(tests, test_project_and_direction_are_inverse);
    tcase_add_test(tests, test_jacobian);
    tcase_add_test(tests, test_two_stars);
    tcase_add_test(tests, test_two_stars_give_the_camera);
    tcase_add_test(tests, test_two_stars_that_make_no_pose);
    tcase_add_test(tests, test_what_cannot_be_seen);
    tcase_add_test(tests, test_moving_keeps_the_axes);
    tcase_add_test(tests, test_meaning_of_the_turns);
    tcase_add_test(tests, test_star_by_star_or_all_at_once);
    tcase_add_test(tests, test_covariance_is_honest);
    tcase_add_test(tests, test_spread);
    tcase_add_test(tests, test_fit_needs_stars);
    suite_add_tcase(suite, tests);
    return suite;
}
