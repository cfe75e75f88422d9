#include "base/median.h"
#include "base/random.h"
#include "tests/unit/near.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 3000, PATTERNS = 7 };

static int by_value(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

/* Orders that divide badly: rising, falling, a ridge, all alike, two values; and two without any.
 */
static double pattern_value(int pattern, int i, int n, struct random *r)
{
    switch (pattern) {
    case 0:
        return i;
    case 1:
        return -i;
    case 2:
        return i < n / 2 ? i : n - i;
    case 3:
        return 7;
    case 4:
        return i % 2;
    case 5:
        return floor(random_between(r, 0, 20));
    default:
        return random_normal(r);
    }
}

START_TEST(test_rank)
{
    static const int sizes[] = {1, 2, 15, 16, 17, 100, 1001, MOST};
    static double value[MOST], sorted[MOST], work[MOST];
    struct random r = {1};
    for (int pattern = 0; pattern < PATTERNS; pattern++) {
        for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
            int n = sizes[s];
            for (int i = 0; i < n; i++) {
                value[i] = sorted[i] = pattern_value(pattern, i, n, &r);
            }
            qsort(sorted, (size_t)n, sizeof *sorted, by_value);
            for (int rank = 0; rank < n; rank += n / 10 + 1) {
                memcpy(work, value, (size_t)n * sizeof *work);
                ck_assert_double_eq(median_rank(work, n, rank), sorted[rank]);
                qsort(work, (size_t)n, sizeof *work, by_value);
                ck_assert_mem_eq(work, sorted, (size_t)n * sizeof *work);
            }
        }
    }
}
END_TEST

START_TEST(test_quantiles)
{
    double few[] = {5, 1, 4, 2, 3}, even[] = {4, 1, 2, 3}, many[101];
    ck_assert_double_eq(median_of(few, 5), 3);
    ck_assert_double_eq(median_of(few, 0), 0);
    ck_assert_double_eq(median_of(even, 4), 3);
    ck_assert_double_eq(median_middle(even, 4), 2.5);
    ck_assert_double_eq(median_middle(few, 5), 3);
    ck_assert(isnan(median_middle(few, 0)));
    for (int i = 0; i < 101; i++) {
        many[i] = (37 * i) % 101;
    }
    ck_assert_double_eq(median_of(many, 101), 50);
    ck_assert_double_eq(median_quantile(many, 101, 1), 100);
    ck_assert_double_eq(median_quantile(many, 101, 0), 0);
}
END_TEST

Suite *median_suite(void)
{
    Suite *s = suite_create("median");
    TCase *c = tcase_create("median");
    tcase_add_test(c, test_rank);
    tcase_add_test(c, test_quantiles);
    suite_add_tcase(s, c);
    return s;
}
