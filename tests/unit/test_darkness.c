#include "near.h"
#include "plan/darkness.h"

#include <math.h>
#include <string.h>

Suite *darkness_suite(void);

static struct darkness night;

static void find(double latitude, double longitude, int year, int month, int day, double offset)
{
    struct place place = {.latitude_deg = latitude, .longitude_deg = longitude};
    ck_assert(darkness_find(&night, &place, year, month, day, offset, DARKNESS_ASTRONOMICAL));
}

static void assert_utc(struct utc got, const char *want, double tolerance_s)
{
    struct utc expected;
    ck_assert(time_read(&expected, want));
    assert_near(time_between(expected, got), 0, tolerance_s, want);
}

/* astropy 5.2.1, altitudes of get_sun interpolated; UT1 = UTC. */
START_TEST(darkness)
{
    find(50, 10, 2026, 2, 24, 60);
    ck_assert_int_eq(night.depth, DARKNESS_ASTRONOMICAL);
    assert_utc(night.below[DARKNESS_SUNSET].start, "2026-02-24T16:53:33Z", 10);
    assert_utc(night.dark.start, "2026-02-24T18:41:15Z", 10);
    assert_utc(night.dark.end, "2026-02-25T04:24:12Z", 10);
    assert_near(dark_span_hours(&night.dark), 9.71, 0.01, "h");
}
END_TEST

START_TEST(seasons_of_the_north)
{
    find(69.6, 19, 2026, 6, 21, 120);
    ck_assert(!night.dark.any && !night.below[DARKNESS_SUNSET].any);
    ck_assert_int_eq(night.depth, DARKNESS_NONE);
    assert_near(night.sun_lowest_deg, 23.436 - (90 - 69.6), 0.01, "deg");
    find(69.6, 19, 2026, 12, 21, 60);
    ck_assert_int_eq(night.depth, DARKNESS_ASTRONOMICAL);
    assert_near(dark_span_hours(&night.below[DARKNESS_SUNSET]), 24, 1e-6, "h"); /* no sunrise */
    ck_assert(dark_span_hours(&night.dark) > 10 && dark_span_hours(&night.dark) < 14);
    find(55, 10, 2026, 6, 21, 120); /* not darker than nautical twilight */
    ck_assert_int_eq(night.depth, DARKNESS_CIVIL);
    assert_near(night.sun_lowest_deg, 23.436 - 35, 0.01, "deg");
    find(90, 0, 2026, 12, 21, 0);
    assert_near(dark_span_hours(&night.dark), 24, 1e-6, "h");
    find(-90, 0, 2026, 12, 21, 0);
    ck_assert(!night.dark.any);
}
END_TEST

/* Near the edge of the polar night the Sun is up for minutes about noon: the night is what lies
 * between two such noons, not the minutes before one. */
START_TEST(short_noon)
{
    int shortened = 0;
    for (int day = 8; day < 20; day += 2) {
        find(67.41, 20, 2026, 12, day, 60);
        double hours = dark_span_hours(&night.below[DARKNESS_SUNSET]);
        ck_assert(hours > 18);
        shortened += hours < 23.99;
    }
    ck_assert_int_gt(shortened, 0);
}
END_TEST

/* The evening of a date is that of the clock at the place, on either side of the date line. */
START_TEST(date_line)
{
    find(-17.8, 178, 2026, 7, 1, 12 * 60);
    assert_utc(night.noon, "2026-07-01T00:08:00Z", 1);
    find(-21, -175.2, 2026, 7, 1, 13 * 60); /* east longitude by the clock */
    assert_utc(night.noon, "2026-06-30T23:40:48Z", 1);
    find(-14.3, -170.7, 2026, 7, 1, -11 * 60);
    assert_utc(night.noon, "2026-07-01T23:22:48Z", 1);
    find(0, 180, 2026, 7, 1, NAN);
    assert_utc(night.noon, "2026-07-02T00:00:00Z", 1);
    find(0, 179.9, 2026, 7, 1, NAN);
    assert_utc(night.noon, "2026-07-01T00:00:24Z", 1);
}
END_TEST

START_TEST(moon)
{
    find(50, 10, 2026, 2, 24, 60);
    /* astropy 5.2.1: sets 02:22:12 UTC. */
    assert_near(night.moon_lit, 0.55, 0.02, "share");
    ck_assert(night.moon_waxing && night.moon_at_dusk);
    assert_near(night.moonless_hours, 2 + 2 / 60.0, 10 / 3600.0 + 0.003, "h");
    find(50, 10, 2026, 3, 18, 60); /* the day before new Moon */
    ck_assert(night.moon_lit < 0.02);
    assert_near(night.moonless_hours, dark_span_hours(&night.dark), 1e-6, "h");
}
END_TEST

static struct dark_window window;

static void look(double ra, double dec, double least)
{
    ck_assert(dark_window(&window, &night, ra, dec, least));
}

/* At the ends of a window the object is as high as asked for, and at the best time highest. */
START_TEST(windows)
{
    static const double sky[][2] = {{83.8, -5.4},  {10.7, 41.3}, {202.5, 47.2},
                                    {250.4, 36.5}, {56.7, 24.1}, {148.9, 69}};
    find(50, 10, 2026, 2, 24, 60);
    for (int i = 0; i < 6; i++) {
        double azimuth, start, end, best;
        look(sky[i][0], sky[i][1], 30);
        ck_assert(window.span.any);
        horizon_from_radec(&azimuth, &start, &night.place, window.span.start, sky[i][0], sky[i][1]);
        horizon_from_radec(&azimuth, &end, &night.place, window.span.end, sky[i][0], sky[i][1]);
        horizon_from_radec(&azimuth, &best, &night.place, window.best, sky[i][0], sky[i][1]);
        bool at_dusk = time_between(night.dark.start, window.span.start) < 1;
        bool at_dawn = time_between(window.span.end, night.dark.end) < 1;
        ck_assert(at_dusk ? start >= 30 : fabs(start - 30) < 0.01);
        ck_assert(at_dawn ? end >= 30 : fabs(end - 30) < 0.01);
        ck_assert(best >= fmax(start, end) - 1e-6);
        for (int k = -1; k <= 1; k += 2) {
            double other;
            struct utc near = time_add(window.best, 300 * k);
            horizon_from_radec(&azimuth, &other, &night.place, near, sky[i][0], sky[i][1]);
            bool outside = time_between(window.span.start, near) < 0 ||
                           time_between(near, window.span.end) < 0;
            ck_assert(outside || other <= best + 1e-6);
        }
    }
    assert_near(window.highest_deg, 90 - (69 - 50), 0.2, "deg");
    assert_near(window.lowest_deg, 69 + 50 - 90, 0.2, "deg");
}
END_TEST

START_TEST(never_up)
{
    find(50, 10, 2026, 2, 24, 60);
    look(201.7, -47.5, 30); /* ω Cen */
    ck_assert(!window.span.any);
    ck_assert(window.highest_deg < 0);
    look(83.8, -5.4, 40); /* rises, but not so high */
    ck_assert(!window.span.any && window.highest_deg > 34);
    look(37.95, 89.26, 30); /* all night */
    assert_near(dark_span_hours(&window.span), dark_span_hours(&night.dark), 1e-6, "h");
    find(50, 10, 2026, 6, 5, 120); /* Orion is up by day only */
    look(83.8, -5.4, 20);
    ck_assert(!window.span.any && window.best_altitude_deg < 0);
}
END_TEST

START_TEST(no_such_dates)
{
    struct place place = {.latitude_deg = 50};
    ck_assert(!darkness_find(&night, &place, 0, 1, 1, NAN, DARKNESS_ASTRONOMICAL));
    ck_assert(!darkness_find(&night, &place, 20000, 1, 1, NAN, DARKNESS_ASTRONOMICAL));
    ck_assert(!darkness_find(&night, &place, 2026, 2, 30, NAN, DARKNESS_ASTRONOMICAL));
    ck_assert(!darkness_find(&night, &place, -5, 2, 3, NAN, DARKNESS_ASTRONOMICAL));
}
END_TEST

Suite *darkness_suite(void)
{
    Suite *suite = suite_create("night");
    TCase *tcase = tcase_create("night");
    tcase_add_test(tcase, darkness);
    tcase_add_test(tcase, seasons_of_the_north);
    tcase_add_test(tcase, short_noon);
    tcase_add_test(tcase, date_line);
    tcase_add_test(tcase, moon);
    tcase_add_test(tcase, windows);
    tcase_add_test(tcase, never_up);
    tcase_add_test(tcase, no_such_dates);
    suite_add_tcase(suite, tcase);
    return suite;
}
