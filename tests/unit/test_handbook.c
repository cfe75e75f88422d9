/* Numbers from handbooks and published examples. */
#include "near.h"
#include "sky/horizon.h"
#include "sky/time.h"
#include "sky/vector.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

Suite *handbook_suite(void);

/* Meeus, Astronomical Algorithms, 2nd ed.; values from memory. */

START_TEST(test_julian_date) /* example 7.a */
{
    struct utc utc;
    ck_assert(time_read(&utc, "1957-10-04T19:26:24")); /* October 4.81 */
    assert_near(time_julian_date(utc), 2436116.31, 1e-9, "days");
    ck_assert(time_read(&utc, "2000-01-01T12:00:00Z"));
    assert_near(time_julian_date(utc), 2451545, 0, "days");
}
END_TEST

START_TEST(test_sidereal_time) /* example 12.a: IAU 1982 expression, which ours replaces */
{
    struct utc utc;
    ck_assert(time_read(&utc, "1987-04-10"));
    double want_deg = 15 * (13 + 10 / 60.0 + 46.3668 / 3600);
    /* IAU 2006 differs from IAU 1982 by a few milliseconds of time in that decade. */
    assert_near(time_sidereal_deg(utc), want_deg, 15 * 0.01 / 3600, "deg");
    assert_near(eraGmst82(utc.day, utc.fraction) * ERFA_DR2D, want_deg, 15 * 0.0001 / 3600, "deg");
    ck_assert(time_read(&utc, "1987-04-10T19:21:00Z")); /* example 12.b */
    want_deg = 15 * (8 + 34 / 60.0 + 57.0896 / 3600);
    assert_near(time_sidereal_deg(utc), want_deg, 15 * 0.01 / 3600, "deg");
}
END_TEST

START_TEST(test_venus_from_washington) /* example 13.b */
{
    struct utc utc;
    struct place washington = {.latitude_deg = 38 + 55 / 60.0 + 17 / 3600.0,
                               .longitude_deg = -(77 + 3 / 60.0 + 56 / 3600.0)};
    ck_assert(time_read(&utc, "1987-04-10T19:21:00Z"));
    /* The apparent place, equinox of date; ours starts from ICRS. */
    double ra_of_date = 15 * (23 + 9 / 60.0 + 16.641 / 3600);
    double dec_of_date = -(6 + 43 / 60.0 + 11.61 / 3600);
    double day, fraction, ra, dec, origins;
    eraUtctai(utc.day, utc.fraction, &day, &fraction);
    eraTaitt(day, fraction, &day, &fraction);
    double matrix[3][3], x, y;
    eraPnm06a(day, fraction, matrix);
    eraBpn2xy(matrix, &x, &y);
    double equation = eraEors(matrix, eraS06(day, fraction, x, y));
    eraAtic13(ra_of_date * ERFA_DD2R + equation, dec_of_date * ERFA_DD2R, day, fraction, &ra, &dec,
              &origins);
    double azimuth, altitude;
    ck_assert(
        horizon_from_radec(&azimuth, &altitude, &washington, utc, ra * ERFA_DR2D, dec * ERFA_DR2D));
    /* UT1 - UTC was -0.5 s or so then (8 arcsec), diurnal aberration 0.2 arcsec. */
    assert_near_turn(azimuth - 180, 68.0337, 10 / 3600.0);
    assert_near(altitude, 15.1249, 10 / 3600.0, "deg");
}
END_TEST

START_TEST(test_time_pair)
{
    static const char *const same[] = {"2026-03-14T21:04:05Z", "1999-12-31T23:59:59Z",
                                       "2016-12-31T23:59:60Z", "2024-02-29T00:00:00Z"};
    char out[32];
    struct utc utc;
    for (int i = 0; i < 4; i++) {
        ck_assert_msg(time_read(&utc, same[i]), "%s", same[i]);
        time_write(out, sizeof out, utc, 0);
        ck_assert_str_eq(out, same[i]);
    }
    ck_assert(time_read(&utc, "2026-03-14 21:04:05.123456"));
    time_write(out, sizeof out, utc, 6);
    ck_assert_str_eq(out, "2026-03-14T21:04:05.123456Z");
    ck_assert(time_read(&utc, "2026-03-14T00:30:00+01:00"));
    time_write(out, sizeof out, utc, 0);
    ck_assert_str_eq(out, "2026-03-13T23:30:00Z");
    ck_assert(time_read(&utc, "2026-12-31T21:00-0330"));
    time_write(out, sizeof out, utc, 0);
    ck_assert_str_eq(out, "2027-01-01T00:30:00Z");
    struct utc later = time_add(utc, 86400 * 3 + 0.25);
    assert_near(time_between(utc, later), 86400 * 3 + 0.25, 1e-9, "s");
    assert_near(time_between(later, utc), -86400 * 3 - 0.25, 1e-9, "s");
    ck_assert(time_add(utc, -1e6).fraction >= 0);
}
END_TEST

START_TEST(test_time_refused)
{
    static const char *const bad[] = {"",
                                      "2026",
                                      "2026-13-01",
                                      "2026-02-30",
                                      "2026-3-14",
                                      "2026-03-14T25:00:00",
                                      "2026-03-14T21:61:00",
                                      "2026-03-14T21:04:05.",
                                      "2026-03-14T21:04:05 ",
                                      "2026-03-14T21:04:05+25:00",
                                      "2026-03-14T21:04:05+1",
                                      "2026-03-14X21:04:05",
                                      "tomorrow",
                                      "2026-03-14T",
                                      "1600-01-01",
                                      "2026-03-14T21:04:61",
                                      "2026-03-14T21:04:60",
                                      "-026-03-14"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct utc utc = {7, 7};
        ck_assert_msg(!time_read(&utc, bad[i]), "\"%s\" was read", bad[i]);
        assert_near(utc.day, 7, 0, "days");
    }
}
END_TEST

START_TEST(test_horizon_pair)
{
    const double latitudes[] = {-90, -33.9, 0, 51.5, 89.99};
    struct utc utc;
    ck_assert(time_read(&utc, "2026-01-15T22:00:00Z"));
    for (int i = 0; i < 5; i++) {
        for (int air = 0; air < 2; air++) {
            struct place place = {latitudes[i], 13.4, 100, air ? 1000 : 0, 10};
            for (double altitude = 5; altitude < 90; altitude += 12) {
                for (double azimuth = 0; azimuth < 360; azimuth += 40) {
                    double ra, dec, azimuth2, altitude2;
                    ck_assert(horizon_to_radec(&ra, &dec, &place, utc, azimuth, altitude));
                    ck_assert(horizon_from_radec(&azimuth2, &altitude2, &place, utc, ra, dec));
                    /* ERFA inverts refraction to 0.01 arcsec above 5 degrees or so. */
                    double bound = air ? 0.2 / 3600 : 1e-9;
                    assert_near(altitude2, altitude, bound, "deg");
                    assert_near_turn(azimuth2, azimuth, 1e-8);
                }
            }
        }
    }
}
END_TEST

START_TEST(test_drift)
{
    /* The sky passes a fixed direction at 15.041 arcsec/s times cos(dec) (handbook). */
    struct utc utc;
    struct place place = {50, 10, 0, 0, 0};
    ck_assert(time_read(&utc, "2026-02-01T20:00:00Z"));
    for (double azimuth = 20; azimuth < 360; azimuth += 50) {
        double ra, dec, ra2, dec2;
        ck_assert(horizon_to_radec(&ra, &dec, &place, utc, azimuth, 40));
        ck_assert(horizon_to_radec(&ra2, &dec2, &place, time_add(utc, 100), azimuth, 40));
        /* Of-date and ICRS declination differ by up to 0.15 degrees: 0.3 % of the drift. */
        double drift = radec_angle_deg(ra, dec, ra2, dec2) * 3600 / 100;
        assert_near(drift, 15.041 * cos(dec * ERFA_DD2R), 15.041 * 0.003, "arcsec/s");
        double pole[3], v[3], w[3];
        horizon_pole(pole, utc);
        vector_from_radec(v, ra, dec);
        vector_from_radec(w, ra2, dec2);
        /* About the pole of date it is right to the turning aberration: 1e-3 of the drift. */
        assert_near(vector_angle_deg(pole, v), vector_angle_deg(pole, w), 1.5 / 3600, "deg");
    }
}
END_TEST

START_TEST(test_zenith_angle)
{
    struct utc utc;
    struct place place = {50, 10, 0, 0, 0};
    double ra, dec, angle;
    ck_assert(time_read(&utc, "2026-02-01T20:00:00Z"));
    /* On the meridian the zenith lies north of what is south of it, and the other way round. The
     * axis of date is up to 0.15 degrees from that of ICRS: 0.15 / cos(dec) in position angle. */
    ck_assert(horizon_to_radec(&ra, &dec, &place, utc, 180, 30));
    ck_assert(horizon_zenith_angle(&angle, &place, utc, ra, dec));
    assert_near_turn(angle, 0, 0.15 / cos(dec * ERFA_DD2R));
    ck_assert(horizon_to_radec(&ra, &dec, &place, utc, 0, 70));
    ck_assert(horizon_zenith_angle(&angle, &place, utc, ra, dec));
    assert_near_turn(angle, 180, 0.15 / cos(dec * ERFA_DD2R));
    /* Rising in the east the zenith is to the west (picture with north up: to the right). */
    ck_assert(horizon_to_radec(&ra, &dec, &place, utc, 90, 20));
    ck_assert(horizon_zenith_angle(&angle, &place, utc, ra, dec));
    ck_assert_msg(angle > 270 && angle < 360, "%g", angle);
}
END_TEST

START_TEST(test_refraction)
{
    /* 34 arcmin at the horizon, 1 arcmin at 45 degrees (handbook). */
    struct utc utc;
    struct place vacuum = {50, 10, 0, 0, 0}, air = {50, 10, 0, 1013.25, 10};
    ck_assert(time_read(&utc, "2026-02-01T20:00:00Z"));
    double ra, dec, azimuth, altitude;
    ck_assert(horizon_to_radec(&ra, &dec, &vacuum, utc, 200, 45));
    ck_assert(horizon_from_radec(&azimuth, &altitude, &air, utc, ra, dec));
    assert_near((altitude - 45) * 60, 1, 0.05, "arcmin");
}
END_TEST

START_TEST(test_usual_pressure)
{
    /* ICAO standard atmosphere (Doc 7488): 898.75 hPa at 1,000 m, 540.20 hPa at 5,000 m. From
     * memory. */
    assert_near(horizon_usual_pressure(0), 1013.25, 1e-9, "hPa");
    assert_near(horizon_usual_pressure(1000), 898.75, 0.05, "hPa");
    assert_near(horizon_usual_pressure(5000), 540.20, 0.1, "hPa");
}
END_TEST

START_TEST(test_horizon_vectors)
{
    double v[3], azimuth, altitude;
    horizon_vector(v, 90, 0); /* east */
    assert_near(v[0], 1, 1e-15, "");
    horizon_vector(v, 0, 0); /* north */
    assert_near(v[1], 1, 1e-15, "");
    horizon_vector(v, 213, -40);
    horizon_angles(&azimuth, &altitude, v);
    assert_near(azimuth, 213, 1e-12, "deg");
    assert_near(altitude, -40, 1e-12, "deg");
    horizon_angles(&azimuth, &altitude, (const double[3]){0, 0, 1});
    assert_near(azimuth, 0, 0, "deg");
    assert_near(altitude, 90, 0, "deg");
}
END_TEST

START_TEST(test_horizon_made_ready)
{
    struct utc utc;
    struct place place = {-33.9, 151.2, 60, 1005, 12};
    struct horizon horizon;
    ck_assert(time_read(&utc, "2026-02-01T20:00:00Z"));
    ck_assert(horizon_make(&horizon, &place, utc));
    for (double later = 0; later < 86400; later += 7200) {
        for (double altitude = 15; altitude < 90; altitude += 15) {
            double ra, dec, v[3], seen[3], exact[3];
            ck_assert(
                horizon_to_radec(&ra, &dec, &place, time_add(utc, later), 3 * altitude, altitude));
            vector_from_radec(v, ra, dec);
            horizon_see(seen, &horizon, v, later);
            horizon_vector(exact, 3 * altitude, altitude);
            double bound_arcsec = later > 0 ? 0.7 : 0.01; /* aberration, annual and diurnal */
            assert_near(vector_angle_deg(seen, exact) * 3600, 0, bound_arcsec, "arcsec");
            horizon_unsee(seen, &horizon, seen, later);
            assert_near(vector_angle_deg(seen, v) * 3600, 0, 0.01, "arcsec");
        }
    }
}
END_TEST

Suite *handbook_suite(void)
{
    Suite *suite = suite_create("handbook");
    TCase *tests = tcase_create("handbook");
    tcase_add_test(tests, test_julian_date);
    tcase_add_test(tests, test_sidereal_time);
    tcase_add_test(tests, test_venus_from_washington);
    tcase_add_test(tests, test_time_pair);
    tcase_add_test(tests, test_time_refused);
    tcase_add_test(tests, test_horizon_pair);
    tcase_add_test(tests, test_drift);
    tcase_add_test(tests, test_zenith_angle);
    tcase_add_test(tests, test_refraction);
    tcase_add_test(tests, test_usual_pressure);
    tcase_add_test(tests, test_horizon_vectors);
    tcase_add_test(tests, test_horizon_made_ready);
    suite_add_tcase(suite, tests);
    return suite;
}
