#include "base/random.h"
#include "near.h"

#include <math.h>

Suite *random_suite(void);

enum { DRAWS = 30000 };

/* Five standard errors: chance alone breaks it once in two million. */
static double bound(double deviation)
{
    return 5 * deviation / sqrt(DRAWS);
}

/* First outputs for seed 1234567 of the authors' own program (from memory). */
START_TEST(test_reference)
{
    static const uint64_t want[] = {UINT64_C(6457827717110365317), UINT64_C(3203168211198807973),
                                    UINT64_C(9817491932198370423), UINT64_C(4593380528125082431),
                                    UINT64_C(16408922859458223821)};
    struct random r = {1234567};
    for (size_t i = 0; i < sizeof want / sizeof *want; i++) {
        ck_assert_uint_eq(random_bits(&r), want[i]);
    }
}
END_TEST

START_TEST(test_uniform)
{
    struct random r = {0};
    double sum = 0, squares = 0;
    for (int i = 0; i < DRAWS; i++) {
        double x = random_uniform(&r);
        ck_assert(x >= 0 && x < 1);
        sum += x;
        squares += x * x;
    }
    assert_near(sum / DRAWS, 0.5, bound(sqrt(1 / 12.0)), "mean");
    assert_near(squares / DRAWS, 1 / 3.0, bound(sqrt(4 / 45.0)), "mean square");
    for (int i = 0; i < 1000; i++) {
        double x = random_between(&r, -3, 7);
        ck_assert(x >= -3 && x <= 7);
    }
}
END_TEST

START_TEST(test_normal)
{
    struct random r = {1};
    double sum = 0, squares = 0;
    int beyond = 0;
    for (int i = 0; i < DRAWS; i++) {
        double x = random_normal(&r);
        sum += x;
        squares += x * x;
        beyond += fabs(x) > 2;
    }
    assert_near(sum / DRAWS, 0, bound(1), "mean");
    assert_near(squares / DRAWS, 1, bound(sqrt(2)), "variance");
    double share = erfc(sqrt(2));
    assert_near((double)beyond / DRAWS, share, bound(sqrt(share * (1 - share))), "beyond 2 sigma");
}
END_TEST

/* Mean and variance are the same number; below and above the change of method. */
START_TEST(test_poisson)
{
    static const double means[] = {0.1, 3, 49.9, 50.1, 1000};
    struct random r = {2};
    for (size_t k = 0; k < sizeof means / sizeof *means; k++) {
        double sum = 0, squares = 0, mean = means[k];
        for (int i = 0; i < DRAWS; i++) {
            double x = random_poisson(&r, mean);
            ck_assert(x >= 0 && x == floor(x));
            sum += x;
            squares += (x - mean) * (x - mean);
        }
        assert_near(sum / DRAWS, mean, bound(sqrt(mean)), "mean");
        /* Rounding to whole numbers adds 1/12 to the variance of the approximation. */
        double extra = mean > 50 ? 1 / 12.0 : 0;
        assert_near(squares / DRAWS, mean + extra, bound(sqrt(mean + 2 * mean * mean)), "variance");
    }
    assert_near(random_poisson(&r, 0), 0, 0, "of nothing");
    assert_near(random_poisson(&r, -1), 0, 0, "of less");
    assert_near(random_poisson(&r, NAN), 0, 0, "of no number");
}
END_TEST

START_TEST(test_direction)
{
    struct random r = {3};
    double sum[3] = {0}, squares[3] = {0};
    for (int i = 0; i < DRAWS; i++) {
        double v[3];
        random_direction(&r, v);
        assert_near(v[0] * v[0] + v[1] * v[1] + v[2] * v[2], 1, 1e-14, "length");
        for (int k = 0; k < 3; k++) {
            sum[k] += v[k];
            squares[k] += v[k] * v[k];
        }
    }
    for (int k = 0; k < 3; k++) {
        assert_near(sum[k] / DRAWS, 0, bound(sqrt(1 / 3.0)), "mean");
        assert_near(squares[k] / DRAWS, 1 / 3.0, bound(sqrt(4 / 45.0)), "mean square");
    }
}
END_TEST

START_TEST(test_repeatable)
{
    struct random a = {77}, b = {77}, c = {78};
    ck_assert_uint_eq(random_bits(&a), random_bits(&b));
    ck_assert_uint_ne(random_bits(&a), random_bits(&c));
}
END_TEST

Suite *random_suite(void)
{
    Suite *suite = suite_create("random");
    TCase *c = tcase_create("random");
    tcase_add_test(c, test_reference);
    tcase_add_test(c, test_uniform);
    tcase_add_test(c, test_normal);
    tcase_add_test(c, test_poisson);
    tcase_add_test(c, test_direction);
    tcase_add_test(c, test_repeatable);
    suite_add_tcase(suite, c);
    return suite;
}
