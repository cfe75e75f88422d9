/* Tripod heads: the move that leads to a target, and what a move tells of the head. */
#include "base/random.h"
#include "base/units.h"
#include "near.h"
#include "sky/vector.h"
#include "tripod/head.h"

#include <math.h>

Suite *head_suite(void);

/* A head of its own, built from its axes and nothing else: what a photographer's hands do. The tilt
 * axis is carried round by the pan; the camera hangs on the tilt axis. */
struct model_head {
    double pan[3];       /* upper end */
    double tilt_zero[3]; /* right end, at pan 0 */
    struct view zero;    /* of the camera, at pan 0 and tilt 0 */
};

static struct view model_view(const struct model_head *head, double pan_deg, double tilt_deg)
{
    struct view view = head->zero;
    double *side[3] = {view.right, view.up, view.out};
    for (int i = 0; i < 3; i++) {
        vector_turn(side[i], head->tilt_zero, tilt_deg);
        vector_turn(side[i], head->pan, -pan_deg);
    }
    return view;
}

/* Leaning by so much to some side, tilt axis off by skew and line of sight by squint, the camera
 * rolled. At pan 0 and tilt 0 it looks about north, square to its pan axis. */
static struct model_head model_make(double lean_deg, double lean_azimuth_deg, double skew_deg,
                                    double squint_deg, double roll_deg)
{
    const double north[3] = {0, 1, 0};
    struct model_head head;
    double side[3];
    horizon_vector(head.pan, lean_azimuth_deg, 90 - lean_deg);
    vector_cross(side, north, head.pan);
    vector_normalise(side);
    vector_cross(head.zero.out, head.pan, side);
    for (int i = 0; i < 3; i++) {
        head.tilt_zero[i] =
            side[i] * cos(skew_deg * RAD_PER_DEG) + head.pan[i] * sin(skew_deg * RAD_PER_DEG);
    }
    /* Right end ahead: the camera looks to the left of square. */
    vector_turn(head.zero.out, head.pan, -squint_deg);
    vector_cross(head.zero.right, head.zero.out, head.pan);
    vector_cross(head.zero.up, head.zero.right, head.zero.out);
    vector_turn(head.zero.right, head.zero.out, roll_deg);
    vector_turn(head.zero.up, head.zero.out, roll_deg);
    return head;
}

/* Its faults, from its axes alone. */
static struct head model_faults(const struct model_head *model, double lean_deg, double to_deg)
{
    return (struct head){lean_deg * sin(to_deg * RAD_PER_DEG), lean_deg * cos(to_deg * RAD_PER_DEG),
                         90 - vector_angle_deg(model->tilt_zero, model->pan),
                         90 - vector_angle_deg(model->tilt_zero, model->zero.out)};
}

/* 1,000 pointings and targets: anywhere, near the zenith, across north, far and near. The frame is
 * 5 degrees wide; 1 % of that is 0.05 degrees. */
START_TEST(a_levelled_head_reaches_the_target)
{
    struct random random = {41};
    double worst = 0;
    for (int i = 0; i < 1000; i++) {
        double roll = i % 3 ? random_between(&random, -90, 90) : 0;
        struct model_head model = model_make(0, 0, 0, 0, roll);
        double pan = i % 4 == 1 ? random_between(&random, -5, 5) : random_between(&random, 0, 360);
        double tilt =
            i % 4 == 2 ? random_between(&random, 80, 89.9) : random_between(&random, 2, 80);
        double target[3], altitude = i % 5 == 3 ? random_between(&random, 85, 90)
                                                : random_between(&random, 0, 90);
        double azimuth =
            i % 2 ? pan + random_between(&random, -10, 10) : random_between(&random, 0, 360);
        horizon_vector(target, azimuth, altitude);
        struct view view = model_view(&model, pan, tilt), after;
        struct head_axes axes;
        struct head_move move;
        head_axes(&axes, &(struct head){0}, &view);
        head_reach(&move, &axes, &view, target);
        after = model_view(&model, pan + move.pan_deg, tilt + move.tilt_deg);
        double off = vector_angle_deg(after.out, target);
        worst = off > worst || isnan(off) ? off : worst;
        ck_assert(fabs(move.pan_deg) <= 180 && fabs(move.tilt_deg) <= 90);
        assert_near(move.short_deg, 0, 0, "deg");
        /* On a levelled head the moves are differences of azimuth and altitude. */
        assert_near_turn(move.pan_deg, azimuth - pan, 1e-6);
        assert_near(move.tilt_deg, altitude - tilt, 1e-6, "deg");
        /* The whole camera is where the move says. */
        struct view turned;
        view_turn(&turned, &view, move.turn);
        assert_near(vector_angle_deg(turned.up, after.up), 0, 1e-6, "deg");
        assert_near(vector_angle_deg(turned.out, after.out), 0, 1e-6, "deg");
    }
    assert_near(worst, 0, 1e-6, "deg");
}
END_TEST

START_TEST(a_leaning_head_is_used_as_it_is)
{
    struct random random = {43};
    for (int i = 0; i < 1000; i++) {
        double lean = random_between(&random, 0, 10), to = random_between(&random, 0, 360);
        double skew = random_between(&random, -3, 3), squint = random_between(&random, -3, 3);
        struct model_head model =
            model_make(lean, to, skew, squint, random_between(&random, -30, 30));
        struct head head = model_faults(&model, lean, to);
        double pan = random_between(&random, 0, 360), tilt = random_between(&random, 0, 60);
        struct view view = model_view(&model, pan, tilt);
        double pan_way = random_between(&random, -40, 40);
        double tilt_way = random_between(&random, -20, 20);
        struct view want = model_view(&model, pan + pan_way, tilt + tilt_way);
        struct head_axes axes;
        struct head_move move;
        head_axes(&axes, &head, &view);
        head_reach(&move, &axes, &view, want.out);
        struct view after = model_view(&model, pan + move.pan_deg, tilt + move.tilt_deg);
        assert_near(vector_angle_deg(after.out, want.out), 0, 1e-6, "deg");
        assert_near(move.pan_deg, pan_way, 1e-6, "deg");
        assert_near(move.tilt_deg, tilt_way, 1e-6, "deg");
    }
}
END_TEST

START_TEST(what_a_head_cannot_reach_it_goes_near)
{
    /* Leaning by 10 degrees and squinting by 5, it has a blind spot of 5 degrees about the axis. */
    struct model_head model = model_make(10, 90, 0, 5, 0);
    struct head head = {10, 0, 0, 5};
    struct view view = model_view(&model, 20, 50);
    struct head_axes axes;
    struct head_move move;
    double target[3];
    head_axes(&axes, &head, &view);
    horizon_vector(target, 90, 80); /* the axis itself */
    head_reach(&move, &axes, &view, target);
    assert_near(move.short_deg, 5, 1e-6, "deg");
    horizon_vector(target, 90, 84.9);
    head_reach(&move, &axes, &view, target);
    assert_near(move.short_deg, 0.1, 1e-6, "deg");
    horizon_vector(target, 90, 85.1);
    head_reach(&move, &axes, &view, target);
    assert_near(move.short_deg, 0, 0, "deg");
}
END_TEST

START_TEST(along_the_camera_it_is_right_then_up)
{
    struct random random = {45};
    for (int i = 0; i < 200; i++) {
        struct view view, after;
        struct head_axes axes;
        struct head_move move;
        double target[3];
        view_from_angles(&view, random_between(&random, 0, 360), random_between(&random, -90, 90),
                         random_between(&random, -180, 180));
        random_direction(&random, target);
        head_axes_of_camera(&axes, &view);
        head_reach(&move, &axes, &view, target);
        view_turn(&after, &view, move.turn);
        assert_near(vector_angle_deg(after.out, target), 0, 1e-6, "deg");
        double right = vector_dot(target, view.right), out = vector_dot(target, view.out);
        assert_near_turn(move.pan_deg, atan2(right, out) * DEG_PER_RAD, 1e-6);
        assert_near(move.tilt_deg, asin(vector_dot(target, view.up)) * DEG_PER_RAD, 1e-5, "deg");
    }
}
END_TEST

/* A view as a solution has it: off by a small turn about each axis. */
static struct view noisy(const struct view *view, double noise_deg, struct random *random)
{
    double axis[3], turn[3][3], angle = 0;
    struct view out;
    for (int i = 0; i < 3; i++) {
        axis[i] = random_normal(random) * noise_deg;
        angle += axis[i] * axis[i];
    }
    if (angle <= 0) {
        return *view;
    }
    vector_normalise(axis);
    matrix_turn(turn, axis, sqrt(angle));
    view_turn(&out, view, turn);
    return out;
}

START_TEST(a_pan_and_a_tilt_tell_the_head)
{
    struct random random = {47};
    for (int i = 0; i < 300; i++) {
        double lean = random_between(&random, 0, 10), to = random_between(&random, 0, 360);
        double skew = random_between(&random, -3, 3), squint = random_between(&random, -3, 3);
        double quarter = 90 * (i % 4 - 1); /* landscape, portrait either way, upside down */
        struct model_head model =
            model_make(lean, to, skew, squint, quarter + random_between(&random, -30, 30));
        double pan = random_between(&random, 0, 360), tilt = random_between(&random, 10, 60);
        struct view view[3] = {model_view(&model, pan, tilt), model_view(&model, pan + 5, tilt),
                               model_view(&model, pan + 5, tilt - 5)};
        struct head head = {0};
        struct head_lesson lesson;
        ck_assert(head_learn(&lesson, HEAD_PAN, view, 2, 0.02, 1));
        assert_near(lesson.angle_deg, 5, 1e-9, "deg");
        assert_near(lesson.off_deg, lean, 1e-6, "deg");
        head_keep(&head, &lesson, false);
        ck_assert(head_learn(&lesson, HEAD_TILT, view + 1, 2, 0.02, 1));
        ck_assert(lesson.off_deg < 40); /* by the lean, as seen at 66 degrees, and the skew */
        head_keep(&head, &lesson, true);
        struct head truth = model_faults(&model, lean, to);
        assert_near(head.lean_east_deg, truth.lean_east_deg, 1e-6, "deg");
        assert_near(head.lean_north_deg, truth.lean_north_deg, 1e-6, "deg");
        assert_near(head.skew_deg, truth.skew_deg, 1e-6, "deg");
        assert_near(head.squint_deg, truth.squint_deg, 1e-6, "deg");
    }
    struct view still[2];
    struct head_lesson lesson;
    view_from_angles(&still[0], 10, 20, 0);
    view_from_angles(&still[1], 10.5, 20, 0);
    ck_assert(!head_learn(&lesson, HEAD_PAN, still, 2, 0.02, 1));
}
END_TEST

START_TEST(a_tilt_alone_tells_one_side_of_the_lean)
{
    /* Looking north, a lean to the east shows in the tilt axis. */
    struct model_head model = model_make(6, 90, 0, 0, 0);
    struct view view[2] = {model_view(&model, 0, 20), model_view(&model, 0, 30)};
    struct head head = {0};
    struct head_lesson lesson;
    ck_assert(head_learn(&lesson, HEAD_TILT, view, 2, 0.02, 1));
    head_keep(&head, &lesson, false);
    assert_near(head.lean_east_deg, 6, 1e-6, "deg");
    assert_near(head.lean_north_deg, 0, 1e-6, "deg");
    assert_near(head.skew_deg, 0, 1e-6, "deg");
}
END_TEST

/* Two frames, 5 degrees apart, each good to 0.02 degrees about each axis, fix the two directions of
 * an axis to 0.02 * sqrt(2) / 5 deg = 0.32 degrees each, and nothing can do better. Twenty times
 * finer ones, which a solution still is by far, or a wider move, do. */
static double rms_axis_error(double noise_deg, double apart_deg, int views, double *told)
{
    struct random random = {53};
    double sum = 0;
    enum { ROUNDS = 2000 };
    for (int i = 0; i < ROUNDS; i++) {
        struct model_head model =
            model_make(random_between(&random, 0, 10), random_between(&random, 0, 360), 0, 0, 0);
        struct view view[9];
        struct head_lesson lesson;
        double pan = random_between(&random, 0, 360), tilt = random_between(&random, 0, 70);
        for (int k = 0; k < views; k++) {
            view[k] = model_view(&model, pan + k * apart_deg / (views - 1), tilt);
            view[k] = noisy(&view[k], noise_deg, &random);
        }
        ck_assert(head_learn(&lesson, HEAD_PAN, view, views, noise_deg, 1));
        double off = vector_angle_deg(lesson.axis, model.pan);
        sum += off * off / 2 / ROUNDS;
        *told = lesson.error_deg;
    }
    return sqrt(sum);
}

START_TEST(the_error_that_is_left_is_the_one_told)
{
    double told;
    /* 2,000 rounds with two directions each: the spread is known to 1.6 %; 5 % is three times it.
     */
    double rms = rms_axis_error(0.02, 5, 2, &told);
    assert_near(told, 0.02 * sqrt(2) / (2 * sin(2.5 * RAD_PER_DEG)), 0.002, "deg");
    assert_near(rms / told, 1, 0.05, "of what is told");
    rms = rms_axis_error(0.02, 25, 2, &told);
    assert_near(rms / told, 1, 0.05, "of what is told");
    ck_assert(rms < 0.2);
    rms = rms_axis_error(0.02, 10, 5, &told);
    assert_near(rms / told, 1, 0.05, "of what is told");
    rms = rms_axis_error(0.001, 5, 2, &told);
    assert_near(rms / told, 1, 0.05, "of what is told");
    ck_assert(rms < 0.02);
}
END_TEST

/* With what was learned from noisy frames 5 degrees apart, a move of 5 degrees lands within 1 % of
 * a frame 5 degrees wide, 0.05 degrees: 0.32 degrees of 5 are 0.03. Without, a lean of 10 degrees
 * would cost up to 0.9. */
START_TEST(advice_after_learning_lands)
{
    struct random random = {59};
    enum { ROUNDS = 1000 };
    int within = 0;
    double worst_exact = 0;
    for (int i = 0; i < ROUNDS; i++) {
        for (int exact = 0; exact < 2; exact++) {
            double noise = exact ? 0.001 : 0.02;
            struct model_head model =
                model_make(random_between(&random, 0, 10), random_between(&random, 0, 360),
                           random_between(&random, -2, 2), random_between(&random, -2, 2),
                           random_between(&random, -20, 20));
            double pan = random_between(&random, 0, 360), tilt = random_between(&random, 10, 60);
            struct view view[3] = {model_view(&model, pan, tilt), model_view(&model, pan + 5, tilt),
                                   model_view(&model, pan + 5, tilt + 5)};
            struct head head = {0};
            struct head_lesson lesson;
            for (int k = 0; k < 3; k++) {
                view[k] = noisy(&view[k], noise, &random);
            }
            ck_assert(head_learn(&lesson, HEAD_PAN, view, 2, noise, 1));
            head_keep(&head, &lesson, false);
            ck_assert(head_learn(&lesson, HEAD_TILT, view + 1, 2, noise, 1));
            head_keep(&head, &lesson, true);
            double pan_way = random_between(&random, -3.5, 3.5);
            double tilt_way = random_between(&random, -3.5, 3.5);
            struct view now = model_view(&model, pan, tilt);
            struct view want = model_view(&model, pan + pan_way, tilt + tilt_way);
            struct head_axes axes;
            struct head_move move;
            head_axes(&axes, &head, &now);
            head_reach(&move, &axes, &now, want.out);
            struct view after = model_view(&model, pan + move.pan_deg, tilt + move.tilt_deg);
            double off = vector_angle_deg(after.out, want.out);
            within += !exact && off <= 0.05;
            worst_exact = exact && !(off <= worst_exact) ? off : worst_exact;
        }
    }
    ck_assert_msg(within >= 0.95 * ROUNDS, "%d of %d within 1 %%", within, ROUNDS);
    assert_near(worst_exact, 0, 0.01, "deg");
}
END_TEST

Suite *head_suite(void)
{
    Suite *suite = suite_create("head");
    TCase *moves = tcase_create("moves");
    tcase_add_test(moves, a_levelled_head_reaches_the_target);
    tcase_add_test(moves, a_leaning_head_is_used_as_it_is);
    tcase_add_test(moves, what_a_head_cannot_reach_it_goes_near);
    tcase_add_test(moves, along_the_camera_it_is_right_then_up);
    suite_add_tcase(suite, moves);
    TCase *lessons = tcase_create("lessons");
    tcase_add_test(lessons, a_pan_and_a_tilt_tell_the_head);
    tcase_add_test(lessons, a_tilt_alone_tells_one_side_of_the_lean);
    tcase_add_test(lessons, the_error_that_is_left_is_the_one_told);
    tcase_add_test(lessons, advice_after_learning_lands);
    suite_add_tcase(suite, lessons);
    return suite;
}
