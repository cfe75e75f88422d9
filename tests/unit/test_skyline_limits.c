/* What a skyline learned from few stars turns on: just short of each limit and just beyond, and how
 * probable a line is through a star or beside it. */
#include "near.h"
#include "tripod/skyline_lesson.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *skyline_limits_suite(void);

enum { MOST = 300 };

static struct skyline_star star[MOST];
static struct skyline_lesson lesson;

/* ---- what holds a line: hidden stars below, seen ones above one that is flat ---- */

static int few;

static void put(double azimuth, double altitude, bool seen)
{
    star[few++] = (struct skyline_star){azimuth, altitude, seen, 0.92, 0.2};
}

/* Whether the line is known at azimuth 100. */
static bool is_known(void)
{
    struct error err = {0};
    ck_assert_int_eq(skyline_lesson_find(&lesson, star, few, &err), 0);
    few = 0;
    return !isnan(skyline_altitude(&lesson.skyline, 100));
}

/* So many stars near azimuth 100 and two on either side, which keep the line where it is but are
 * farther than 4 degrees away. */
static void put_row(int stars, double altitude, bool seen)
{
    for (int i = 0; i < stars; i++) {
        put(100 + 0.5 * i, altitude, seen);
    }
    for (int side = -1; side <= 1; side += 2) {
        put(100 + side * 5.1, altitude, seen);
        put(100 + side * 5.3, altitude, seen);
    }
}

START_TEST(two_stars_on_each_side_hold_the_line)
{
    put_row(2, 20, false);
    put_row(2, 24, true);
    ck_assert(is_known());
    put_row(1, 20, false);
    put_row(2, 24, true);
    ck_assert(!is_known());
    put_row(2, 20, false);
    put_row(1, 24, true);
    ck_assert(!is_known());
}
END_TEST

START_TEST(stars_within_4_degrees_hold_the_line)
{
    for (int i = 0; i < 2; i++) {
        double aside = i ? 4.4 : 3.6;
        for (int k = 0; k < 4; k++) {
            put(100 + (k % 2 ? aside : -aside), 20 - 0.1 * k, false);
            put(100 + (k % 2 ? aside : -aside), 24 + 0.1 * k, true);
        }
        ck_assert(is_known() == (i == 0));
    }
}
END_TEST

/* The line lies half-way between them. */
START_TEST(stars_within_10_degrees_hold_the_line)
{
    for (int i = 0; i < 2; i++) {
        double away = i ? 11 : 9;
        for (int k = 0; k < 8; k++) {
            put(98.5 + 0.4 * k, 40 - away, false);
            put(98.5 + 0.4 * k, 40 + away, true);
        }
        ck_assert(is_known() == (i == 0));
    }
}
END_TEST

/* Corners that are off a straight line by a fifth of a degree are left out of what is written. */
START_TEST(small_corners_are_left_out)
{
    struct error err = {0};
    for (int i = 0; i < 2; i++) {
        struct skyline before = {0};
        ck_assert(skyline_read(&before, i ? "20:10 42:10 44:10.22 46:10 80:10 81:-"
                                          : "20:10 42:10 44:10.18 46:10 80:10 81:-"));
        ck_assert_int_eq(skyline_lesson_find(&lesson, star, 0, &err), 0);
        skyline_lesson_unite(&lesson, &before);
        assert_near(skyline_altitude(&lesson.skyline, 44), i ? 10.22 : 10, 0.005, "deg");
    }
}
END_TEST

/* ---- how probable a line is ---- */

/* At 10 degrees on either side of azimuth 100 the line is where many stars hold it; in between it may be
 * anywhere. */
static void pin(double altitude)
{
    for (int side = -1; side <= 1; side += 2) {
        for (int i = 0; i < 60; i++) {
            double by = i % 2 ? 0.1 : -0.1;
            star[few++] =
                (struct skyline_star){100 + 10 * side, altitude + by, i % 2, 0.99, 0.99};
        }
    }
}

static void put_many(int stars, double altitude, bool seen)
{
    for (int i = 0; i < stars; i++) {
        put(100, altitude, seen);
    }
}

enum { STEPS = 181 };

/* All ways from a line held at level from, in five pieces: half as probable for each degree of change. */
static void find_ways(double ways[STEPS], int from)
{
    double before[STEPS];
    memset(before, 0, sizeof before);
    before[from] = 1;
    for (int piece = 0; piece < 5; piece++) {
        for (int to = 0; to < STEPS; to++) {
            ways[to] = 0;
            for (int k = 0; k < STEPS; k++) {
                ways[to] += before[k] * exp(-0.7 * 0.5 * abs(to - k));
            }
        }
        memcpy(before, ways, sizeof before);
    }
}

struct witnesses {
    double altitude;
    bool seen;
    int stars;
};

/* What stars at azimuth 100 say of a line: one in a hundred shows through a roof; of those above it 0.2
 * are seen beside it, 0.92 from two degrees on. */
static double probable(double altitude, const struct witnesses *by)
{
    double all = 1;
    for (; by->stars; by++) {
        double above = by->altitude - altitude;
        double missed = above <= 0 ? 1 : 1 - (0.2 + fmin(above / 2, 1) * 0.72);
        double one = !by->seen ? missed : above <= 0 ? 0.01 : 1;
        all *= pow(one, by->stars);
    }
    return all;
}

START_TEST(the_line_is_the_mean_of_all)
{
    static const struct witnesses by[] = {{30, false, 2},    {36.9, false, 3}, {35.75, true, 1},
                                          {42, true, 2}, {.stars = 0}};
    struct error err = {0};
    double ways[STEPS], sum = 0, weight = 0;
    find_ways(ways, 70);
    for (int k = 0; k < STEPS; k++) {
        double one = ways[k] * ways[k] * probable(0.5 * k, by);
        sum += one * 0.5 * k;
        weight += one;
    }
    few = 0;
    pin(35);
    for (int i = 0; by[i].stars; i++) {
        put_many(by[i].stars, by[i].altitude, by[i].seen);
    }
    ck_assert_int_eq(skyline_lesson_find(&lesson, star, few, &err), 0);
    few = 0;
    assert_near(lesson.highest_azimuth_deg, 100, 0, "deg");
    assert_near(lesson.highest_deg, sum / weight, 0.03, "deg");
}
END_TEST

/* By the same numbers 22 times, and 18 times. */
START_TEST(a_line_is_twenty_times_as_probable_as_none)
{
    pin(0);
    put_many(2, 0.25, false);
    put_many(3, 0.55, false);
    put_many(2, 7, true);
    ck_assert(is_known());
    pin(0);
    put_many(2, 1.25, false);
    put_many(1, 5.95, false);
    put_many(2, 5.2, true);
    ck_assert(!is_known());
}
END_TEST

Suite *skyline_limits_suite(void)
{
    Suite *suite = suite_create("skyline limits");
    TCase *tests = tcase_create("limits");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, two_stars_on_each_side_hold_the_line);
    tcase_add_test(tests, stars_within_4_degrees_hold_the_line);
    tcase_add_test(tests, stars_within_10_degrees_hold_the_line);
    tcase_add_test(tests, small_corners_are_left_out);
    tcase_add_test(tests, the_line_is_the_mean_of_all);
    tcase_add_test(tests, a_line_is_twenty_times_as_probable_as_none);
    suite_add_tcase(suite, tests);
    return suite;
}
