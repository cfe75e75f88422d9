/* From a star to a target: just short of each limit and just beyond, with stars made up where they
 * are wanted. tests/unit/test_plan.c has the ways among real stars. */
#include "near.h"
#include "plan/approach.h"
#include "sky/sun_moon.h"

#include <check.h>

Suite *approach_suite(void);

static const struct place garden = {.latitude_deg = 50, .longitude_deg = 10};
static struct object star[4];
static struct objects objects;
static struct utc when;
static struct approach way;

static void set_time(const char *text)
{
    ck_assert(time_read(&when, text));
}

static void start(void)
{
    objects = (struct objects){.object = star};
    set_time("2026-01-18T21:00:00Z");
}

static void place_at(double *ra_deg, double *dec_deg, double azimuth_deg, double altitude_deg)
{
    const struct place seen_from = approach_place(&garden);
    ck_assert(horizon_to_radec(ra_deg, dec_deg, &seen_from, when, azimuth_deg, altitude_deg));
}

static void add_star(double azimuth_deg, double altitude_deg, double magnitude)
{
    struct object *next = &star[objects.count++];
    *next = (struct object){.id = "a star", .magnitude = magnitude};
    place_at(&next->ra_deg, &next->dec_deg, azimuth_deg, altitude_deg);
}

/* The way from the stars, which are forgotten, to a target; how many stops it has. */
static int stops_to(double azimuth_deg, double altitude_deg)
{
    double ra, dec;
    place_at(&ra, &dec, azimuth_deg, altitude_deg);
    ck_assert(approach_find(&way, &objects, &garden, NULL, when, ra, dec));
    ck_assert(way.found == (way.stops > 0));
    objects.count = 0;
    return way.stops;
}

static bool starts(double altitude_deg, double magnitude, double target_deg)
{
    add_star(100, altitude_deg, magnitude);
    return stops_to(100, target_deg) > 0;
}

START_TEST(a_start_is_of_magnitude_2_5_and_12_degrees_high)
{
    ck_assert(starts(40, 2.4, 45));
    ck_assert(!starts(40, 2.6, 45));
    ck_assert(starts(12.3, 1, 20));
    ck_assert(!starts(11.7, 1, 20));
}
END_TEST

/* Of a target at 70 degrees, which counts for more than the 75 from where a head pans far. */
START_TEST(a_start_is_at_most_eight_degrees_above_a_high_target)
{
    ck_assert(starts(77.7, 1, 70));
    ck_assert(!starts(78.3, 1, 70));
}
END_TEST

/* Of a magnitude 1 that is eight degrees off, and a magnitude 2 that is nearer. */
static bool fainter_one_wins(double nearer_deg)
{
    add_star(100, 48, 1);
    add_star(100, 40 - (8 - nearer_deg), 2);
    ck_assert_int_ge(stops_to(100, 40), 2);
    return way.stop[0].star == &star[1];
}

START_TEST(a_magnitude_is_worth_two_degrees)
{
    ck_assert(!fainter_one_wins(1.8));
    ck_assert(fainter_one_wins(2.2));
}
END_TEST

/* From 30 degrees up, with stars at a third, a half and two thirds of the way. */
static int stops_along(double way_deg, double magnitude)
{
    add_star(100, 30, 2);
    add_star(100, 30 + way_deg / 3, magnitude);
    add_star(100, 30 + way_deg / 2, magnitude);
    add_star(100, 30 + way_deg * 2 / 3, magnitude);
    return stops_to(100, 30 + way_deg);
}

START_TEST(each_fifteen_degrees_there_is_a_star_on_the_way)
{
    ck_assert_int_eq(stops_along(14.5, 3), 2);
    ck_assert_int_eq(stops_along(15.5, 3), 3);
    ck_assert_int_eq(stops_along(29.5, 3), 3);
    ck_assert_int_eq(stops_along(30.5, 3), 4);
    ck_assert_int_eq(stops_along(20, 3.4), 3);
    ck_assert_int_eq(stops_along(20, 3.6), 2);
}
END_TEST

START_TEST(a_target_within_a_twentieth_of_a_degree_is_the_star)
{
    add_star(100, 40, 1);
    ck_assert_int_eq(stops_to(100, 40.046), 1);
    add_star(100, 40, 1);
    ck_assert_int_eq(stops_to(100, 40.054), 2);
}
END_TEST

static struct sun_moon_position sun_now(void)
{
    struct sun_moon_position sun;
    ck_assert(sun_moon_from_place(&sun, THE_SUN, &garden, when));
    return sun;
}

/* A sweep down towards the Sun of an afternoon, to so many degrees above it. */
static bool leads_to(double above_sun_deg)
{
    const struct sun_moon_position sun = sun_now();
    add_star(sun.azimuth_deg, sun.altitude_deg + above_sun_deg + 3, 0);
    stops_to(sun.azimuth_deg, sun.altitude_deg + above_sun_deg);
    ck_assert(way.found != way.sun_too_near);
    return way.found;
}

START_TEST(no_way_leads_nearer_than_thirty_degrees_to_the_sun)
{
    set_time("2026-02-24T15:30:00Z");
    ck_assert(leads_to(31));
    ck_assert(!leads_to(29));
}
END_TEST

/* Through a sunset: its middle a degree below the horizon, refraction still shows its edge. */
START_TEST(the_sun_counts_until_it_is_a_degree_down)
{
    int up = 0, down = 0;
    set_time("2026-02-24T16:30:00Z");
    for (int i = 0; i < 180; i++) {
        when = time_add(when, 20);
        const double altitude = sun_now().altitude_deg;
        add_star(0, 40, 1);
        stops_to(0, 45);
        ck_assert(way.found);
        ck_assert_int_eq(way.sun_nearest_deg<180, altitude> - 1);
        up += altitude > -1 && altitude < -0.9;
        down += altitude < -1 && altitude > -1.1;
    }
    ck_assert(up > 0 && down > 0);
}
END_TEST

Suite *approach_suite(void)
{
    Suite *s = suite_create("approach");
    TCase *c = tcase_create("approach");
    tcase_add_checked_fixture(c, start, NULL);
    tcase_add_test(c, a_start_is_of_magnitude_2_5_and_12_degrees_high);
    tcase_add_test(c, a_start_is_at_most_eight_degrees_above_a_high_target);
    tcase_add_test(c, a_magnitude_is_worth_two_degrees);
    tcase_add_test(c, each_fifteen_degrees_there_is_a_star_on_the_way);
    tcase_add_test(c, a_target_within_a_twentieth_of_a_degree_is_the_star);
    tcase_add_test(c, no_way_leads_nearer_than_thirty_degrees_to_the_sun);
    tcase_add_test(c, the_sun_counts_until_it_is_a_degree_down);
    suite_add_tcase(s, c);
    return s;
}
