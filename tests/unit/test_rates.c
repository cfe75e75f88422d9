/* The constants of sky/rates.h against ERFA. */
#include "sky/rates.h"

#include "near.h"

#include <erfa.h>

Suite *rates_suite(void);

START_TEST(the_sky_turns_as_in_erfa)
{
    const double day = 2461096.5;
    double seconds = 600, angle = eraAnp(eraEra00(day, seconds / 86400) - eraEra00(day, 0));
    assert_near(angle / seconds, SIDEREAL_RAD_S, 1e-15, "rad/s");
    assert_near(angle * DEG_PER_RAD / seconds, SIDEREAL_DEG_S, 1e-13, "deg/s");
    assert_near(angle * ARCSEC_PER_RAD / seconds, SIDEREAL_ARCSEC_S, 1e-9, "arcsec/s");
    assert_near_turn((eraEra00(day, SIDEREAL_DAY_S / 86400) - eraEra00(day, 0)) * DEG_PER_RAD, 0,
                     1e-9);
}
END_TEST

START_TEST(clocks_count_from_1970)
{
    double day, fraction;
    ck_assert_int_eq(eraCal2jd(1970, 1, 1, &day, &fraction), 0);
    assert_near(day + fraction, UNIX_EPOCH_JD, 0, "d");
}
END_TEST

Suite *rates_suite(void)
{
    Suite *suite = suite_create("rates");
    TCase *tests = tcase_create("rates");
    tcase_add_test(tests, the_sky_turns_as_in_erfa);
    tcase_add_test(tests, clocks_count_from_1970);
    suite_add_tcase(suite, tests);
    return suite;
}
