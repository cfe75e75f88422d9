/* Whether a camera's clock that is an hour off, or a day, is noticed, and one that is right left in
 * peace. */
#include "near.h"
#include "sample.h"
#include "stand_fixture.h"
#include "tripod/clock_doubt.h"

#include <string.h>

Suite *clock_doubt_suite(void);

/* At night, at a middle latitude, towards the south or the north: where an hour shows. */
static struct tripod some_evening(struct random *random, double roll_deg)
{
    struct tripod tripod = tripod_anywhere(random);
    ck_assert(time_read(&tripod.utc, "2026-02-24T22:00:00"));
    tripod.utc = time_add(tripod.utc, 86400.0 * floor(random_between(random, 0, 300)));
    tripod.place.latitude_deg = random_between(random, -45, 45);
    tripod.place.longitude_deg = random_between(random, -10, 20);
    tripod.azimuth_deg =
        random_between(random, -40, 40) + (random_between(random, 0, 1) < 0.5 ? 180 : 0);
    tripod.roll_deg = roll_deg;
    return tripod;
}

/* What the frame is taken for, by a clock that is fast. */
static struct clock_doubt doubt_of(const struct tripod *tripod, double fast_s, double held_deg)
{
    struct wcs wcs = tripod_wcs(tripod, 0);
    struct ground ground;
    struct stand stand;
    struct clock_doubt doubt;
    ck_assert(ground_make(&ground, &tripod->place, time_add(tripod->utc, fast_s)));
    stand_make(&stand, &wcs, &ground);
    clock_doubt_find(&doubt, &stand, NULL, held_deg);
    return doubt;
}

/* Frames with rolls of 1 and of 2 degrees, one deviation. */
START_TEST(a_clock_that_is_right_is_left_in_peace)
{
    struct random random = {31};
    int doubted = 0;
    for (int i = 0, frames = sample(200); i < frames; i++) {
        struct tripod tripod = some_evening(&random, random_normal(&random) * (_i + 1));
        if (i % 3 == 0) {
            tripod.roll_deg += 90; /* upright */
        }
        struct clock_doubt doubt =
            doubt_of(&tripod, random_between(&random, -120, 120), CLOCK_DOUBT_HELD_DEG);
        doubted += doubt.by != CLOCK_DOUBT_NONE;
    }
    ck_assert_int_eq(doubted, 0);
}
END_TEST

START_TEST(an_hour_is_noticed)
{
    struct random random = {32};
    int noticed = 0, right = 0, visible = 0;
    for (int i = 0; i < 200; i++) {
        double fast_s = (i % 2 ? 3600 : -3600) + random_between(&random, -120, 120);
        struct tripod tripod = some_evening(&random, random_normal(&random) * 0.5);
        struct clock_doubt doubt = doubt_of(&tripod, fast_s, CLOCK_DOUBT_HELD_DEG);
        double turn_deg = 15 * cos(tripod.place.latitude_deg * RAD_PER_DEG) *
                          fabs(cos(tripod.azimuth_deg * RAD_PER_DEG));
        if (turn_deg < 8) {
            continue;
        }
        visible++;
        noticed += doubt.by != CLOCK_DOUBT_NONE;
        right += doubt.by == CLOCK_DOUBT_LEVEL && fabs(doubt.fast_s - fast_s) < 300;
    }
    ck_assert_int_gt(visible, 100);
    /* What the header promises is 85 %; a level of 0.5 degrees is passed by 2 of 200 frames. */
    ck_assert_int_ge(noticed, visible * 80 / 100);
    ck_assert_int_ge(right, noticed - 3);
}
END_TEST

/* Turned by any angle, so that within 1.5 degrees of level an hour off are 6 of 90 degrees. */
START_TEST(few_cameras_turned_on_purpose_are_doubted)
{
    struct random random = {33};
    int doubted = 0;
    for (int i = 0; i < 1000; i++) {
        struct tripod tripod = some_evening(&random, random_between(&random, -90, 90));
        doubted += doubt_of(&tripod, 0, CLOCK_DOUBT_HELD_DEG).by != CLOCK_DOUBT_NONE;
    }
    ck_assert_int_ge(doubted, 20); /* else nothing is looked at */
    ck_assert_int_le(doubted, 80);
}
END_TEST

/* Towards the south, where an hour turns a level camera by about 14 degrees. */
static struct tripod southern(double altitude_deg, double roll_deg)
{
    struct random random = {34};
    struct tripod tripod = tripod_anywhere(&random);
    ck_assert(time_read(&tripod.utc, "2026-02-24T22:00:00"));
    tripod.place = (struct place){.latitude_deg = 20, .longitude_deg = 10};
    tripod.azimuth_deg = 180;
    tripod.altitude_deg = altitude_deg;
    tripod.roll_deg = roll_deg;
    return tripod;
}

START_TEST(an_hour_must_bring_the_camera_to_within_a_deviation_and_a_half)
{
    struct tripod near = southern(30, 1.38), far = southern(30, 1.62);
    struct clock_doubt doubt = doubt_of(&near, 3600, CLOCK_DOUBT_HELD_DEG);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_LEVEL);
    assert_near(doubt.fast_s, 3600, 0, "s");
    ck_assert_int_eq(doubt_of(&near, -3600, CLOCK_DOUBT_HELD_DEG).by, CLOCK_DOUBT_LEVEL);
    ck_assert_int_eq(doubt_of(&far, 3600, CLOCK_DOUBT_HELD_DEG).by, CLOCK_DOUBT_NONE);
}
END_TEST

START_TEST(the_camera_must_lean_by_six_deviations_without_it)
{
    struct tripod tripod = southern(30, 0);
    double lean_deg = doubt_of(&tripod, 3600, 1).shown_deg;
    assert_near(lean_deg, 14, 1, "deg");
    ck_assert_int_eq(doubt_of(&tripod, 3600, lean_deg / 5.7).by, CLOCK_DOUBT_NONE);
    ck_assert_int_eq(doubt_of(&tripod, 3600, lean_deg / 6.3).by, CLOCK_DOUBT_LEVEL);
}
END_TEST

START_TEST(no_camera_looks_into_the_ground)
{
    struct tripod hill = southern(-2.7, 0), ground = southern(-3.3, 0);
    ck_assert_int_eq(doubt_of(&hill, 0, 1).by, CLOCK_DOUBT_NONE);
    struct clock_doubt doubt = doubt_of(&ground, 0, 1);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_GROUND);
    assert_near(doubt.shown_deg, -3.3, 0.1, "deg");
    ck_assert(isnan(doubt.fast_s));
}
END_TEST

START_TEST(stars_do_not_show_by_day)
{
    struct tripod tripod = southern(30, 0);
    struct clock_doubt doubt = doubt_of(&tripod, 10 * 3600.0, 1);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_SUN);
    ck_assert(doubt.shown_deg > 10 && isnan(doubt.fast_s));
}
END_TEST

START_TEST(nothing_is_taken_later_than_now)
{
    struct tripod tripod = southern(30, 0);
    struct stand stand = tripod_stand(&tripod, false);
    struct clock_doubt doubt;
    struct utc now = time_add(stand.ground.utc, -280);
    clock_doubt_find(&doubt, &stand, &now, 1);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_NONE);
    now = time_add(stand.ground.utc, -320);
    clock_doubt_find(&doubt, &stand, &now, 1);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_FUTURE);
    assert_near(doubt.fast_s, 320, 1e-3, "s");
    clock_doubt_find(&doubt, &stand, NULL, 1);
    ck_assert_int_eq(doubt.by, CLOCK_DOUBT_NONE);
}
END_TEST

START_TEST(frames_that_come_do_so_within_a_quarter_of_an_hour)
{
    static const struct {
        double lag_s;
        bool doubted;
    } row[] = {{2, false},          {880, false},         {920, true},          {3600, true},
               {86400, true},       {-280, false},        {-320, true},         {-86400, true},
               {2.9 * 86400, true}, {3.1 * 86400, false}, {-3.1 * 86400, false}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct clock_doubt doubt;
        clock_doubt_of_lag(&doubt, row[i].lag_s);
        ck_assert_int_eq(doubt.by, row[i].doubted ? CLOCK_DOUBT_COMES : CLOCK_DOUBT_NONE);
        assert_near(doubt.fast_s, row[i].doubted ? -row[i].lag_s : 0, 0, "s");
    }
}
END_TEST

/* Of hours from 20 to 24 h: by a day on or back it must be 18:00 to 2:00. */
START_TEST(a_planned_night_tells_the_day)
{
    static const struct {
        double hour, fast_s;
    } row[] = {{21, 0},           {14, 0},
               {30, 0},           {21 + 24, 86400},
               {21 - 24, -86400}, {18.1 + 24, 86400},
               {17.9 + 24, 0},    {25.9 - 24, -86400},
               {26.1 - 24, 0},    {21 + 48, 0},
               {21 - 48, 0}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct clock_doubt doubt;
        clock_doubt_of_plan(&doubt, (row[i].hour - 20) * 3600, (row[i].hour - 24) * 3600);
        ck_assert_int_eq(doubt.by, row[i].fast_s != 0 ? CLOCK_DOUBT_PLAN : CLOCK_DOUBT_NONE);
        assert_near(doubt.fast_s, row[i].fast_s, 0, "s");
    }
}
END_TEST

START_TEST(a_doubt_is_a_sentence)
{
    static const struct {
        struct clock_doubt doubt;
        const char *want;
    } row[] = {
        {{CLOCK_DOUBT_NONE, 0, 0}, ""},
        {{CLOCK_DOUBT_LEVEL, 3600, 8.4},
         "the camera's clock seems an hour ahead (summer time?): by it the camera leans 8°, else "
         "it "
         "would be level"},
        {{CLOCK_DOUBT_SUN, -7200, 12},
         "the camera's clock seems 2 hours behind: the Sun would have been at +12°"},
        {{CLOCK_DOUBT_GROUND, (double)NAN, -20},
         "the camera's clock seems wrong, or its zone or the place is: the camera would have "
         "looked "
         "20° into the ground"},
        {{CLOCK_DOUBT_FUTURE, 86000, 0},
         "the camera's clock is a day ahead of this computer's: one of the two, or the camera's "
         "zone, is wrong"},
        {{CLOCK_DOUBT_COMES, -86400, 0},
         "the camera's clock seems a day behind: frames come as they are taken, but by it a day "
         "too late"},
        {{CLOCK_DOUBT_COMES, 3600, 0},
         "the camera's clock seems an hour ahead: frames come as they are taken, but by it an hour "
         "too early"},
        {{CLOCK_DOUBT_PLAN, -86400, 0},
         "the camera's clock seems a day behind: by it this is the night before the one that was "
         "planned"},
        {{CLOCK_DOUBT_FUTURE, 600, 0},
         "the camera's clock is 10 min ahead of this computer's: one of the two, or the camera's "
         "zone, is wrong"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[300];
        clock_doubt_write(text, sizeof text, &row[i].doubt);
        ck_assert_str_eq(text, row[i].want);
    }
}
END_TEST

START_TEST(whole_hours_and_days_have_words)
{
    static const struct {
        double seconds;
        const char *words;
    } row[] = {{3600, " (an hour)"},
               {-3600, " (an hour)"},
               {7200, " (2 hours)"},
               {86400, " (a day)"},
               {-172800, " (2 days)"},
               {90000, " (25 hours)"},
               {86400 + 85, " (a day)"},
               {86400 + 115, ""},
               {3600 - 85, " (an hour)"},
               {3600 - 115, ""},
               {600, ""},
               {0, ""}};
    char text[40];
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        clock_doubt_write_whole(text, sizeof text, row[i].seconds);
        ck_assert_str_eq(text, row[i].words);
    }
}
END_TEST

Suite *clock_doubt_suite(void)
{
    Suite *suite = suite_create("clock_doubt");
    TCase *c = tcase_create("clock_doubt");
    tcase_set_timeout(c, 60);
    tcase_add_loop_test(c, a_clock_that_is_right_is_left_in_peace, 0, 2);
    tcase_add_test(c, an_hour_is_noticed);
    tcase_add_test(c, few_cameras_turned_on_purpose_are_doubted);
    tcase_add_test(c, an_hour_must_bring_the_camera_to_within_a_deviation_and_a_half);
    tcase_add_test(c, the_camera_must_lean_by_six_deviations_without_it);
    tcase_add_test(c, no_camera_looks_into_the_ground);
    tcase_add_test(c, stars_do_not_show_by_day);
    tcase_add_test(c, nothing_is_taken_later_than_now);
    tcase_add_test(c, frames_that_come_do_so_within_a_quarter_of_an_hour);
    tcase_add_test(c, a_planned_night_tells_the_day);
    tcase_add_test(c, whole_hours_and_days_have_words);
    tcase_add_test(c, a_doubt_is_a_sentence);
    suite_add_tcase(suite, c);
    return suite;
}
