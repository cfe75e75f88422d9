#include "base/least_squares.h"

#include "base/random.h"
#include "near.h"

#include <math.h>
#include <string.h>

Suite *least_squares_suite(void);

enum { ROWS = 60 };

/* Equations with as many unknowns as n says. */
struct equations {
    int n;
    double row[ROWS][LEAST_SQUARES_MAX], value[ROWS], weight[ROWS];
};

static void random_equations(struct equations *e, int n, struct random *random)
{
    e->n = n;
    for (int i = 0; i < ROWS; i++) {
        for (int j = 0; j < n; j++) {
            e->row[i][j] = random_normal(random);
        }
        e->value[i] = random_normal(random);
        e->weight[i] = random_between(random, 0.1, 3);
    }
}

static void add_all(struct least_squares *ls, const struct equations *e)
{
    *ls = (struct least_squares){.n = e->n};
    for (int i = 0; i < ROWS; i++) {
        least_squares_add(ls, e->row[i], e->value[i], e->weight[i]);
    }
}

static double residual(const struct equations *e, int i, const double *x)
{
    double sum = e->value[i];
    for (int j = 0; j < e->n; j++) {
        sum -= e->row[i][j] * x[j];
    }
    return sum;
}

/* At the minimum the weighted residuals are at right angles to each column; the covariance times
 * the normal matrix is the unit matrix. */
START_TEST(test_minimum_and_covariance)
{
    struct random random = {1};
    for (int n = 1; n <= LEAST_SQUARES_MAX; n++) {
        struct equations e;
        struct least_squares ls;
        double x[LEAST_SQUARES_MAX], covariance[LEAST_SQUARES_MAX * LEAST_SQUARES_MAX];
        random_equations(&e, n, &random);
        add_all(&ls, &e);
        ck_assert(least_squares_solve(x, covariance, &ls));
        for (int j = 0; j < n; j++) {
            double across = 0;
            for (int i = 0; i < ROWS; i++) {
                across += e.weight[i] * e.row[i][j] * residual(&e, i, x);
            }
            /* Sums of 60 terms of about 1 through a matrix of condition below 100. */
            assert_near(across, 0, 1e-11, "1");
            for (int k = 0; k < n; k++) {
                double product = 0;
                for (int l = 0; l < n; l++) {
                    double normal = l >= k ? ls.normal[l][k] : ls.normal[k][l];
                    product += covariance[j * n + l] * normal;
                }
                assert_near(product, j == k, 1e-11, "1");
            }
        }
    }
}
END_TEST

/* Straight line through weighted points against the formulas of every textbook. */
START_TEST(test_straight_line)
{
    static const double t[5] = {0, 1, 2, 3, 5}, y[5] = {1.1, 2.9, 5.2, 6.8, 11.1};
    static const double w[5] = {1, 4, 1, 0.25, 2};
    struct least_squares ls = {.n = 2};
    double s = 0, st = 0, stt = 0, sy = 0, sty = 0, x[2], covariance[4];
    for (int i = 0; i < 5; i++) {
        const double row[2] = {1, t[i]};
        least_squares_add(&ls, row, y[i], w[i]);
        s += w[i];
        st += w[i] * t[i];
        stt += w[i] * t[i] * t[i];
        sy += w[i] * y[i];
        sty += w[i] * t[i] * y[i];
    }
    double det = s * stt - st * st;
    ck_assert(least_squares_solve(x, covariance, &ls));
    assert_near(x[0], (stt * sy - st * sty) / det, 1e-13, "1");
    assert_near(x[1], (s * sty - st * sy) / det, 1e-13, "1");
    assert_near(covariance[0], stt / det, 1e-13, "1");
    assert_near(covariance[1], -st / det, 1e-13, "1");
    assert_near(covariance[2], -st / det, 1e-13, "1");
    assert_near(covariance[3], s / det, 1e-13, "1");
}
END_TEST

/* Unknowns of 1e-12 beside unknowns of 1e12, as in polynomials of high order. */
START_TEST(test_unknowns_of_any_size)
{
    struct random random = {2};
    struct equations e;
    struct least_squares plain, scaled;
    double x[5], y[5];
    static const double size[5] = {1, 1e-12, 1e12, 1e6, 1e-6};
    random_equations(&e, 5, &random);
    add_all(&plain, &e);
    for (int i = 0; i < ROWS; i++) {
        for (int j = 0; j < 5; j++) {
            e.row[i][j] *= size[j];
        }
    }
    add_all(&scaled, &e);
    ck_assert(least_squares_solve(x, NULL, &plain));
    ck_assert(least_squares_solve(y, NULL, &scaled));
    for (int j = 0; j < 5; j++) {
        assert_near(y[j] * size[j] / x[j], 1, 1e-10, "ratio");
    }
}
END_TEST

START_TEST(test_solving_keeps_the_equations)
{
    struct random random = {3};
    struct equations e;
    struct least_squares ls, before;
    double x[9], y[9];
    random_equations(&e, 9, &random);
    add_all(&ls, &e);
    memcpy(&before, &ls, sizeof ls);
    ck_assert(least_squares_solve(x, NULL, &ls));
    ck_assert_mem_eq(&ls, &before, sizeof ls);
    ck_assert(least_squares_solve(y, NULL, &ls));
    ck_assert_mem_eq(x, y, sizeof x);
}
END_TEST

/* None, too few, dependent, weightless and spoilt equations do not determine the unknowns. */
START_TEST(test_undetermined)
{
    const double row[3] = {1, 2, 3}, other[3] = {0, 1, 1}, spoilt[3] = {1, NAN, 0};
    double x[3], covariance[9];
    struct least_squares ls = {.n = 3};
    ck_assert(!least_squares_solve(x, covariance, &ls));
    least_squares_add(&ls, row, 1, 1);
    least_squares_add(&ls, other, 2, 1);
    ck_assert(!least_squares_solve(x, covariance, &ls));
    const double sum[3] = {1, 3, 4};
    least_squares_add(&ls, sum, 3, 1);
    ck_assert(!least_squares_solve(x, covariance, &ls));
    const double third[3] = {5, 0, 1};
    least_squares_add(&ls, third, 3, 0);
    ck_assert(!least_squares_solve(x, covariance, &ls));
    least_squares_add(&ls, third, 3, 1);
    ck_assert(least_squares_solve(x, covariance, &ls));
    least_squares_add(&ls, spoilt, 0, 1);
    ck_assert(!least_squares_solve(x, covariance, &ls));
}
END_TEST

Suite *least_squares_suite(void)
{
    Suite *suite = suite_create("least_squares");
    TCase *tests = tcase_create("normal equations");
    tcase_add_test(tests, test_minimum_and_covariance);
    tcase_add_test(tests, test_straight_line);
    tcase_add_test(tests, test_unknowns_of_any_size);
    tcase_add_test(tests, test_solving_keeps_the_equations);
    tcase_add_test(tests, test_undetermined);
    suite_add_tcase(suite, tests);
    return suite;
}
