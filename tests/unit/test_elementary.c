#include "base/elementary.h"

#include "base/units.h"
#include "near.h"

#include <check.h>
#include <math.h>

Suite *elementary_suite(void);

/* The C library's functions are good to the last bit or two. */
START_TEST(agrees_with_exp)
{
    for (double x = -699; x <= 0; x += 0.0137) {
        assert_near(elementary_exp(x) / exp(x), 1, 2e-15, "ratio");
    }
    assert_near(elementary_exp(0), 1, 0, "of 1");
    assert_near(elementary_exp(-800), 0, 0, "of 1");
}
END_TEST

START_TEST(agrees_with_log)
{
    for (double x = 1e-300; x < 1e300; x *= 1.0173) {
        assert_near(elementary_log(x), log(x), 1e-15 * fmax(1, fabs(log(x))), "of 1");
    }
    assert_near(elementary_log(1), 0, 0, "of 1");
}
END_TEST

START_TEST(agrees_with_erf)
{
    for (double x = -8; x <= 8; x += 0.00137) {
        assert_near(elementary_erf(x), erf(x), 1e-12, "of 1");
    }
    assert_near(elementary_erf(0), 0, 0, "of 1");
    assert_near(elementary_erf((double)INFINITY), 1, 0, "of 1");
}
END_TEST

START_TEST(agrees_with_atan2)
{
    for (double angle = -3.14; angle < PI; angle += 0.00173) {
        for (double r = 1e-9; r < 1e10; r *= 1e6) {
            double x = r * cos(angle), y = r * sin(angle);
            assert_near(elementary_atan2(y, x), atan2(y, x), 2e-15, "rad");
            assert_near(elementary_length(x, y), r, 1e-15 * r, "of 1");
        }
    }
    assert_near(elementary_atan2(0, 0), 0, 0, "rad");
    assert_near(elementary_atan2(0, -1), PI, 0, "rad");
    assert_near(elementary_atan2(-1, 0), -PI / 2, 0, "rad");
}
END_TEST

Suite *elementary_suite(void)
{
    Suite *suite = suite_create("elementary");
    TCase *tests = tcase_create("elementary");
    tcase_add_test(tests, agrees_with_exp);
    tcase_add_test(tests, agrees_with_log);
    tcase_add_test(tests, agrees_with_erf);
    tcase_add_test(tests, agrees_with_atan2);
    suite_add_tcase(suite, tests);
    return suite;
}
