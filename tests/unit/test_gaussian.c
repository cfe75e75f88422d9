#include "stars/gaussian.h"

#include "near.h"

#include <check.h>
#include <math.h>

Suite *gaussian_suite(void);

/* Round, long, slanted either way, as narrow as profiles get: against the formula, pixel by pixel.
 */
START_TEST(agrees_with_the_formula)
{
    static const struct profile profiles[] = {{1, 0, 1},          {0.43, 0, 0.43}, {25, 0, 0.43},
                                              {12.7, 12.2, 12.7}, {6, -5, 5},      {0.5, 0.2, 30}};
    static const double places[][2] = {{0, 0}, {0.5, -0.5}, {-0.49, 0.31}, {100.2, 77.8}};
    static struct gaussian_grid grid;
    for (size_t k = 0; k < sizeof profiles / sizeof *profiles; k++) {
        for (size_t n = 0; n < sizeof places / sizeof *places; n++) {
            double x = places[n][0], y = places[n][1];
            gaussian_fill(&grid, &profiles[k], x, y, 15, 13);
            ck_assert_int_eq(grid.columns, 31);
            ck_assert_int_eq(grid.rows, 27);
            for (int i = 0; i < grid.columns * grid.rows; i++) {
                double dx = grid.left + i % grid.columns - x,
                       dy = grid.upper + i / grid.columns - y;
                double expected = profile_value(&profiles[k], dx, dy);
                assert_near(grid.value[i], expected, 1e-11 * expected + 1e-290, "of unit light");
            }
        }
    }
}
END_TEST

Suite *gaussian_suite(void)
{
    Suite *suite = suite_create("gaussian");
    TCase *tests = tcase_create("gaussian");
    tcase_add_test(tests, agrees_with_the_formula);
    suite_add_tcase(suite, tests);
    return suite;
}
