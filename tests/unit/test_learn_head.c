/* What two frames before and after a turn must be like to teach an axis of the head: just short of
 * each limit and just beyond. Frames are known by their solutions alone. */
#include "jobs/learn_head.h"
#include "near.h"
#include "scratch.h"
#include "stand_fixture.h"

Suite *learn_head_suite(void);

static struct job_engine engine;
static struct learned_head learned;
static struct error err;

/* A level camera, turned by pan_deg, and tilted by so much as well; the second frame is taken a
 * minute later. rig: the settings file; NULL: there is none. */
static int learn(double pan_deg, double tilt_deg, const char *rig)
{
    static const struct aim_wish wish = AIM_WISH_USUAL;
    const struct aim_context context = {.wish = &wish, .engine = &engine};
    struct series_frame frame[2] = {{.name = "first.jpg"}, {.name = "second.jpg"}};
    struct aim_sight sight[2];
    struct tripod tripod = {.place = {.latitude_deg = 50, .longitude_deg = 10},
                            .azimuth_deg = 170,
                            .altitude_deg = 35,
                            .lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000}};
    struct aim_series series = {.frame = frame, .sight = sight, .count = 2};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    memset(&engine, 0, sizeof engine);
    err = (struct error){0};
    if (rig) {
        const char *path = scratch_write("rig.ini", rig, strlen(rig));
        const struct rig_choice choice = {.head = "Ball"};
        ck_assert_msg(rig_in_use_read(&engine.rig, path, &choice, &err) == 0, "%s", err.text);
    }
    for (int i = 0; i < 2; i++) {
        sight[i] = (struct aim_sight){.wcs = tripod_wcs(&tripod, 60 * i)};
        sight[i].occasion = (struct occasion){.has_time = true,
                                              .has_utc = true,
                                              .start = time_add(tripod.utc, 60 * i),
                                              .mid = time_add(tripod.utc, 60 * i),
                                              .has_place = true,
                                              .place = tripod.place};
        tripod.azimuth_deg += pan_deg;
        tripod.altitude_deg += tilt_deg;
    }
    int code =
        learn_head(&learned, &series, &context, HEAD_PAN, NULL, scratch_path("kept.ini"), &err);
    return code;
}

START_TEST(a_degree_of_turn_is_enough)
{
    ck_assert_msg(learn(1.15, 0, NULL) == 0, "%s", err.text);
    ck_assert_int_eq(learn(0.85, 0, NULL), ERROR_NO);
    ck_assert_msg(strncmp(err.text, "the camera turned by only 0.", 28) == 0, "%s", err.text);
}
END_TEST

/* Each frame holds to 0.02 degrees (half a millimetre on a lens 1.4 m long, or a finger's touch):
 * a turn by 30 tells the axis to 0.02 * sqrt(2) / (2 sin 15). */
START_TEST(the_axis_is_as_exact_as_a_clamp)
{
    ck_assert_msg(learn(30 / cos(35 * RAD_PER_DEG), 0, NULL) == 0, "%s", err.text);
    double turn = learned.lesson.angle_deg * RAD_PER_DEG;
    double expected = 0.02 * sqrt(2) / (2 * sin(turn / 2));
    assert_near(learned.error_deg, expected, 0.1 * expected, "deg");
}
END_TEST

/* A pan of 20 degrees at an altitude of 35 and a tilt with it: the axis that does both at once
 * leans by atan(tilt / pan) or so. */
START_TEST(an_axis_20_degrees_off_is_no_pan)
{
    ck_assert_msg(learn(8, 2.45, NULL) == 0, "%s", err.text);
    ck_assert(learned.lesson.off_deg > 16.5 && learned.lesson.off_deg < 20);
    ck_assert_int_eq(learn(8, 3.35, NULL), ERROR_NO);
    ck_assert(learned.lesson.off_deg > 20 && learned.lesson.off_deg < 23.5);
    ck_assert_msg(strstr(err.text, "something else was moved too") != NULL, "%s", err.text);
}
END_TEST

static bool counts_as_fresh(const char *when)
{
    char rig[200];
    snprintf(rig, sizeof rig,
             "[head Ball]\nlean east = 0.4\nlean north = 0.1\nskew = 0.3\nsquint = 0.2\n"
             "error = 0.5\nlearned = %s\n",
             when);
    ck_assert_msg(learn(20, 0, rig) == 0, "%s", err.text);
    ck_assert_str_eq(learned.name, "Ball");
    return learned.head.skew_deg > 0.25;
}

/* Twelve hours, before the second frame or after it: of another night nothing holds. */
START_TEST(a_lean_holds_for_a_night)
{
    ck_assert(counts_as_fresh("2026-02-24T08:30:00Z"));
    ck_assert(!counts_as_fresh("2026-02-24T06:30:00Z"));
    ck_assert(counts_as_fresh("2026-02-25T06:30:00Z"));
    ck_assert(!counts_as_fresh("2026-02-25T08:45:00Z"));
}
END_TEST

/* The same night for the head that advice is given for. */
START_TEST(advice_heeds_a_lean_for_a_night)
{
    struct occasion occasion = {.has_time = true, .has_utc = true};
    struct rig_head rig = {.lean_east_deg = 1, .skew_deg = 2, .error_deg = 0.1};
    struct aim_head head;
    ck_assert(time_read(&occasion.mid, "2026-02-24T19:30:00"));
    rig.learned = time_stamp_utc(time_add(occasion.mid, -11 * 3600.0), 0);
    aim_head_find(&head, &rig, &occasion);
    ck_assert(!head.lean_stale && head.head.lean_east_deg > 0);
    rig.learned = time_stamp_utc(time_add(occasion.mid, -13 * 3600.0), 0);
    aim_head_find(&head, &rig, &occasion);
    ck_assert(head.lean_stale && head.head.lean_east_deg == 0 && head.head.skew_deg > 0);
}
END_TEST

/* What was measured of the pan axis says nothing of the tilt axis. */
START_TEST(a_pan_alone_promises_nothing_of_the_tilt)
{
    struct occasion occasion = {.has_time = true, .has_utc = true};
    struct rig_head rig = {.lean_east_deg = 1, .error_deg = 0.03};
    struct aim_head head;
    ck_assert(time_read(&occasion.mid, "2026-02-24T19:30:00"));
    rig.learned = time_stamp_utc(occasion.mid, 0);
    aim_head_find(&head, &rig, &occasion);
    ck_assert(head.tilt_assumed && isnan(head.error_deg));
    rig.squint_deg = 0.001;
    aim_head_find(&head, &rig, &occasion);
    ck_assert(!head.tilt_assumed);
    assert_near(head.error_deg, 0.03, 0, "deg");
}
END_TEST

Suite *learn_head_suite(void)
{
    Suite *s = suite_create("learn_head");
    TCase *c = scratch_case(s, "limits");
    tcase_add_test(c, a_degree_of_turn_is_enough);
    tcase_add_test(c, the_axis_is_as_exact_as_a_clamp);
    tcase_add_test(c, an_axis_20_degrees_off_is_no_pan);
    tcase_add_test(c, a_lean_holds_for_a_night);
    tcase_add_test(c, advice_heeds_a_lean_for_a_night);
    tcase_add_test(c, a_pan_alone_promises_nothing_of_the_tilt);
    return s;
}
