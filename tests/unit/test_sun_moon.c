#include "near.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

Suite *sun_moon_suite(void);

/* Right ascension and declination on the true equator and equinox of date, as handbooks give them.
 * The day is terrestrial time. */
static void place_of_date(double *ra_deg, double *dec_deg, double *distance_au, enum sun_moon which,
                          double tt_day)
{
    double v[3], matrix[3][3], of_date[3];
    struct utc utc = {tt_day, 0};
    double tai_day, tai, utc_day, utc_fraction;
    eraTttai(tt_day, 0, &tai_day, &tai);
    eraTaiutc(tai_day, tai, &utc_day, &utc_fraction);
    utc = (struct utc){utc_day, utc_fraction};
    ck_assert(sun_moon_from_earth(v, distance_au, which, utc));
    eraPnm06a(tt_day, 0, matrix);
    eraRxp(matrix, v, of_date);
    vector_to_radec(ra_deg, dec_deg, of_date);
}

/* Meeus, Astronomical Algorithms, 2nd ed.; values from memory. */

START_TEST(sun_of_1992) /* example 25.b: 13h13m30.75s, -7 deg 47' 01.7" */
{
    double ra, dec, au;
    place_of_date(&ra, &dec, &au, THE_SUN, 2448908.5);
    assert_near(ra, 15 * (13 + 13 / 60.0 + 30.75 / 3600), 0.3 / 3600, "deg");
    assert_near(dec, -(7 + 47 / 60.0 + 1.7 / 3600), 0.3 / 3600, "deg");
    assert_near(au, 0.99760775, 1e-6, "au");
}
END_TEST

/* Examples 47.a and 48.a. The series of the former is cut: 12 arcsec; its distance is not counted
 * along the way of the light, in whose 1.3 s the Earth goes on by 38 km. */
START_TEST(moon_of_1992)
{
    double ra, dec, au, lit;
    bool waxing;
    place_of_date(&ra, &dec, &au, THE_MOON, 2448724.5);
    assert_near(ra, 134.688470, 12 / 3600.0, "deg");
    assert_near(dec, 13.768368, 12 / 3600.0, "deg");
    assert_near(au * 149597870.7, 368409.7, 40, "km");
    struct utc utc;
    ck_assert(time_read(&utc, "1992-04-11T23:59:01Z"));
    ck_assert(sun_moon_phase(&lit, &waxing, utc));
    assert_near(lit, 0.6786, 0.002, "share");
    ck_assert(waxing);
    double limb; /* the handbook counts from north of date, 0.04 degrees off */
    ck_assert(sun_moon_moonlight(&lit, &limb, NULL, utc));
    assert_near(lit, 0.6786, 0.002, "share");
    assert_near(limb, 285.0, 0.1, "deg");
}
END_TEST

static int crossings(struct sun_moon_crossing out[8], enum sun_moon which, double latitude,
                     double longitude, const char *start, double hours, double altitude)
{
    struct place place = {.latitude_deg = latitude, .longitude_deg = longitude};
    struct sun_moon_track track;
    struct utc utc;
    ck_assert(time_read(&utc, start));
    ck_assert(sun_moon_track_make(&track, which, &place, utc, hours));
    return sun_moon_crossings(out, 8, &track, altitude);
}

START_TEST(midnight_sun_and_polar_night)
{
    struct sun_moon_crossing out[8];
    const char *summer = "2026-06-21T10:00:00Z", *winter = "2026-12-21T10:00:00Z";
    ck_assert_int_eq(crossings(out, THE_SUN, 69.6, 19, summer, 24, SUN_MOON_RISE_SET), 0);
    ck_assert_int_eq(crossings(out, THE_SUN, 69.6, 19, winter, 24, SUN_MOON_RISE_SET), 0);
    ck_assert_int_eq(crossings(out, THE_SUN, 69.6, 19, winter, 24, SUN_MOON_CIVIL), 2);
    ck_assert(out[0].rising != out[1].rising);
    ck_assert_int_eq(crossings(out, THE_SUN, -90, 0, winter, 24, SUN_MOON_RISE_SET), 0);
    /* A white night: civil dusk and dawn, but nothing darker. */
    ck_assert_int_eq(crossings(out, THE_SUN, 59.9, 30.3, summer, 24, SUN_MOON_RISE_SET), 2);
    ck_assert_int_eq(crossings(out, THE_SUN, 59.9, 30.3, summer, 24, SUN_MOON_NAUTICAL), 0);
}
END_TEST

/* Close to the edge of the polar day the Sun dips below the horizon for minutes only: less than
 * the step of the search. */
START_TEST(short_visits)
{
    struct sun_moon_crossing out[8];
    struct place place = {.latitude_deg = 66, .longitude_deg = 20};
    struct sun_moon_track track;
    struct utc start, lowest;
    double altitude;
    ck_assert(time_read(&start, "2026-06-21T12:00:00Z"));
    ck_assert(sun_moon_track_make(&track, THE_SUN, &place, start, 24));
    sun_moon_extreme(&lowest, &altitude, true, &track);
    ck_assert_int_eq(sun_moon_crossings(out, 8, &track, altitude + 0.0005), 2);
    double apart = time_between(out[0].utc, out[1].utc);
    ck_assert(!out[0].rising && out[1].rising && apart > 30 && apart < 600);
    assert_near(time_between(out[0].utc, lowest), apart / 2, 60, "s");
    ck_assert_int_eq(sun_moon_crossings(out, 8, &track, altitude - 0.0005), 0);
    /* The same from the other side: what only just gets there. */
    sun_moon_extreme(&lowest, &altitude, false, &track);
    ck_assert_int_eq(sun_moon_crossings(out, 8, &track, altitude - 0.0005), 2);
    ck_assert(out[0].rising && !out[1].rising);
}
END_TEST

START_TEST(room_is_kept_to)
{
    struct sun_moon_crossing out[8];
    ck_assert_int_eq(crossings(out, THE_SUN, 50, 10, "2026-03-14", 100, SUN_MOON_RISE_SET), 8);
    ck_assert(!out[7].rising);
    struct place place = {.latitude_deg = 50};
    struct sun_moon_position seen;
    struct sun_moon_track track;
    struct utc never = {-1e9, 0};
    ck_assert(!sun_moon_from_place(&seen, THE_SUN, &place, never));
    ck_assert(!sun_moon_track_make(&track, THE_SUN, &place, never, 24));
}
END_TEST

Suite *sun_moon_suite(void)
{
    Suite *suite = suite_create("sun_moon");
    TCase *places = tcase_create("places");
    tcase_add_test(places, sun_of_1992);
    tcase_add_test(places, moon_of_1992);
    suite_add_tcase(suite, places);
    TCase *rising = tcase_create("rising");
    tcase_add_test(rising, midnight_sun_and_polar_night);
    tcase_add_test(rising, short_visits);
    tcase_add_test(rising, room_is_kept_to);
    suite_add_tcase(suite, rising);
    return suite;
}
