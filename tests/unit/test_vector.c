#include "base/random.h"
#include "near.h"
#include "sky/vector.h"

#include <math.h>

Suite *vector_suite(void);

/* One rounding of a double near 360 degrees is 6e-14. */
static const double rounding = 1e-12;

START_TEST(test_axes)
{
    double v[3];
    vector_from_radec(v, 0, 0);
    assert_near(v[0], 1, 1e-15, "x");
    vector_from_radec(v, 90, 0);
    assert_near(v[1], 1, 1e-15, "y");
    vector_from_radec(v, 123, 90);
    assert_near(v[2], 1, 1e-15, "z");
}
END_TEST

START_TEST(test_round_trip)
{
    const double decs[] = {-90, -89.9999999, -45, -1e-9, 0, 1e-9, 30, 89.9999999, 90};
    for (int k = 0; k < 9; k++) {
        for (double ra = 0; ra < 360; ra += 22.5) {
            double v[3], ra2, dec2;
            vector_from_radec(v, ra, decs[k]);
            vector_to_radec(&ra2, &dec2, v);
            /* arctangents keep the declination to a rounding even beside the pole. */
            assert_near(dec2, decs[k], rounding, "deg");
            ck_assert(ra2 >= 0 && ra2 < 360);
            if (fabs(decs[k]) < 89) {
                assert_near_turn(ra2, ra, rounding);
            }
        }
    }
}
END_TEST

START_TEST(test_pole_without_direction)
{
    double ra = 7, dec = 7;
    vector_to_radec(&ra, &dec, (const double[3]){0, 0, 2});
    assert_near(ra, 0, 0, "deg");
    assert_near(dec, 90, 0, "deg");
    vector_to_radec(&ra, &dec, (const double[3]){0, 0, -0.5});
    assert_near(ra, 0, 0, "deg");
    assert_near(dec, -90, 0, "deg");
}
END_TEST

START_TEST(test_ra_wrap)
{
    double ra, dec;
    vector_to_radec(&ra, &dec, (const double[3]){1, -1e-18, 0});
    ck_assert(ra >= 0 && ra < 360);
    vector_to_radec(&ra, &dec, (const double[3]){1, -0.0, 0});
    ck_assert(ra >= 0 && ra < 360);
    assert_near(radec_angle_deg(359.9999, 0, 0.0001, 0), 0.0002, rounding, "deg");
    assert_near(radec_angle_deg(-0.0001, 0, 360.0001, 0), 0.0002, rounding, "deg");
    assert_near(radec_position_angle_deg(359.9999, 0, 0.0001, 0), 90, 1e-9, "deg");
    assert_near(radec_position_angle_deg(0.0001, 0, 359.9999, 0), 270, 1e-9, "deg");
}
END_TEST

START_TEST(test_angle_both_ends)
{
    /* A hundredth of a milliarcsecond, which an arccosine would lose. */
    double tiny = 1e-5 / 3600;
    assert_near(radec_angle_deg(10, 20, 10, 20 + tiny), tiny, 1e-14, "deg");
    assert_near(radec_angle_deg(10, 20, 190, -20 + tiny), 180 - tiny, rounding, "deg");
    assert_near(radec_angle_deg(10, 20, 190, -20), 180, rounding, "deg");
    assert_near(radec_angle_deg(10, 90, 250, 90), 0, rounding, "deg");
    assert_near(radec_angle_deg(10, 90, 250, -90), 180, rounding, "deg");
    const double a[3] = {0, 0, 3}, b[3] = {0, 5, 5};
    assert_near(vector_angle_deg(a, b), 45, rounding, "deg"); /* lengths do not matter */
}
END_TEST

START_TEST(test_arcturus_spica)
{
    /* Meeus, Astronomical Algorithms, 2nd ed., example 17.a (J2000 mean places; from memory). */
    double separation = radec_angle_deg(213.9154, 19.1825, 201.2983, -11.1614);
    assert_near(separation, 32.7930, 0.00005, "deg");
}
END_TEST

START_TEST(test_position_angle)
{
    assert_near(radec_position_angle_deg(50, 10, 50, 11), 0, rounding, "deg");
    assert_near(radec_position_angle_deg(50, 10, 50, 9), 180, rounding, "deg");
    assert_near(radec_position_angle_deg(50, 0, 51, 0), 90, rounding, "deg");
    assert_near(radec_position_angle_deg(50, 0, 49, 0), 270, rounding, "deg");
    /* Every way from the south pole leads north. At the pole the angle counts from the meridian
     * of the right ascension given. */
    assert_near_turn(radec_position_angle_deg(0, -90, 0, 0), 0, rounding);
    assert_near_turn(radec_position_angle_deg(0, 90, 30, 60), 150, rounding);
}
END_TEST

START_TEST(test_offset_pair)
{
    struct random random = {17};
    for (int i = 0; i < 2000; i++) {
        double ra = random_between(&random, 0, 360);
        double dec = i % 5 == 0 ? 90 - pow(10, random_between(&random, -8, 0))
                                : random_between(&random, -89, 89);
        double angle = random_between(&random, 0, 360);
        double distance = i % 2 ? random_between(&random, 0.001, 179) : 180 - 0.001;
        double ra2, dec2;
        radec_offset(&ra2, &dec2, ra, dec, angle, distance);
        assert_near(radec_angle_deg(ra, dec, ra2, dec2), distance, 1e-11, "deg");
        /* Rounding of RA2, Dec2 (3e-14 deg) seen from within 0.001 deg of one end: 1e-9 deg. */
        assert_near_turn(radec_position_angle_deg(ra, dec, ra2, dec2), angle, 1e-8);
    }
}
END_TEST

START_TEST(test_cross_and_normalise)
{
    double x[3] = {2, 0, 0}, y[3] = {0, 3, 0};
    double z[3];
    vector_cross(z, x, y);
    assert_near(z[2], 6, 0, "z");
    vector_cross(x, x, y); /* in place */
    assert_near(x[2], 6, 0, "z");
    assert_near(x[0], 0, 0, "x");
    double v[3] = {3, -4, 12};
    vector_normalise(v);
    assert_near(vector_dot(v, v), 1, 1e-15, "length");
    assert_near(v[2], 12.0 / 13, 1e-15, "z");
}
END_TEST

START_TEST(test_turn)
{
    const double z[3] = {0, 0, 1}, x[3] = {1, 0, 0};
    double v[3] = {1, 0, 0}, m[3][3], n[3][3], both[3][3], w[3];
    vector_turn(v, z, 90); /* right-handed: x goes to y */
    assert_near(v[0], 0, 1e-15, "");
    assert_near(v[1], 1, 1e-15, "");
    vector_turn(v, x, 90); /* y goes to z */
    assert_near(v[2], 1, 1e-15, "");

    double axis[3] = {1, 2, -3}, from[3] = {0.3, -0.5, 0.8}, turned[3] = {0.3, -0.5, 0.8};
    vector_normalise(axis);
    vector_turn(turned, axis, 77);
    vector_turn(turned, z, -20);
    matrix_turn(m, axis, 77);
    matrix_turn(n, z, -20);
    matrix_after(both, n, m);
    matrix_apply(w, both, from);
    for (int i = 0; i < 3; i++) {
        assert_near(w[i], turned[i], 1e-15, "");
    }
    matrix_apply_back(w, both, w); /* in place */
    for (int i = 0; i < 3; i++) {
        assert_near(w[i], from[i], 1e-15, "");
    }
}
END_TEST

START_TEST(test_wrap)
{
    assert_near(angle_wrap_360(360), 0, 0, "deg");
    assert_near(angle_wrap_360(-90), 270, 0, "deg");
    assert_near(angle_wrap_360(725), 5, 0, "deg");
    assert_near(angle_wrap_360(-1e-300), 0, 0, "deg");
    ck_assert(!signbit(angle_wrap_360(-0.0)));
    assert_near(angle_wrap_180(180), -180, 0, "deg");
    assert_near(angle_wrap_180(-180), -180, 0, "deg");
    assert_near(angle_wrap_180(179.5), 179.5, 0, "deg");
    assert_near(angle_wrap_180(540.25), -179.75, 0, "deg");
}
END_TEST

Suite *vector_suite(void)
{
    Suite *suite = suite_create("vector");
    TCase *tests = tcase_create("vector");
    tcase_add_test(tests, test_axes);
    tcase_add_test(tests, test_round_trip);
    tcase_add_test(tests, test_pole_without_direction);
    tcase_add_test(tests, test_ra_wrap);
    tcase_add_test(tests, test_angle_both_ends);
    tcase_add_test(tests, test_arcturus_spica);
    tcase_add_test(tests, test_position_angle);
    tcase_add_test(tests, test_offset_pair);
    tcase_add_test(tests, test_cross_and_normalise);
    tcase_add_test(tests, test_turn);
    tcase_add_test(tests, test_wrap);
    suite_add_tcase(suite, tests);
    return suite;
}
