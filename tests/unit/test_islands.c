#include "stars/islands.h"

#include "base/random.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

Suite *islands_suite(void);

enum { WIDTH = 12, HEIGHT = 6 };

/* One digit for each pixel. */
static struct relief draw(float *level, const char *const rows[HEIGHT])
{
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        level[i] = (float)(rows[i / WIDTH][i % WIDTH] - '0');
    }
    return (struct relief){.width = WIDTH, .height = HEIGHT, .level = level};
}

/* Corners count as connected; the edges of the picture do not meet. */
START_TEST(hides_what_nowhere_reaches_the_peak)
{
    static const char *const rows[HEIGHT] = {
        "200000000003", /* left: low; right: joined to the 5 below by a corner */
        "000002200050", "020002000000", "003000000000", "000600001222", "000000000000"};
    static const char *const left[HEIGHT] = {"000000000003", "000000000050", "020000000000",
                                             "003000000000", "000600001000", "000000000000"};
    float level[WIDTH * HEIGHT], expected[WIDTH * HEIGHT], before[WIDTH * HEIGHT];
    struct relief r = draw(level, rows);
    struct islands hidden = {0};
    struct error err = {0};
    draw(expected, left);
    memcpy(before, level, sizeof before);
    ck_assert_int_eq(islands_hide(&hidden, &r, 2, 5, &err), 0);
    ck_assert_mem_eq(level, expected, sizeof level);
    ck_assert_uint_eq(hidden.count, 7);
    islands_show(&hidden, &r);
    ck_assert_mem_eq(level, before, sizeof level);
    ck_assert_ptr_null(hidden.pixel);
}
END_TEST

/* Against the plainest way to do it: marks spread until nothing changes. */
START_TEST(agrees_with_spreading_marks)
{
    enum { SIDE = 97, PIXELS = SIDE * SIDE };
    static float level[PIXELS], before[PIXELS];
    static bool kept[PIXELS];
    struct random random = {5};
    for (int i = 0; i < PIXELS; i++) {
        before[i] = level[i] = (float)random_normal(&random);
        kept[i] = level[i] >= 2.5F;
    }
    for (bool changed = true; changed;) {
        changed = false;
        for (int i = 0; i < PIXELS; i++) {
            for (int k = 0; k < 9 && !kept[i] && level[i] >= 0.4F; k++) {
                int x = i % SIDE + k % 3 - 1, y = i / SIDE + k / 3 - 1;
                bool inside = x >= 0 && y >= 0 && x < SIDE && y < SIDE;
                changed |= kept[i] = inside && kept[y * SIDE + x];
            }
        }
    }
    struct relief r = {.width = SIDE, .height = SIDE, .level = level};
    struct islands hidden = {0};
    struct error err = {0};
    ck_assert_int_eq(islands_hide(&hidden, &r, 0.4F, 2.5F, &err), 0);
    for (int i = 0; i < PIXELS; i++) {
        bool gone = before[i] >= 0.4F && !kept[i];
        ck_assert_msg(level[i] >= (gone ? 0 : before[i]) && level[i] <= (gone ? 0 : before[i]),
                      "pixel %d", i);
    }
    ck_assert_uint_gt(hidden.count, 300);
    islands_show(&hidden, &r);
    ck_assert_mem_eq(level, before, sizeof level);
}
END_TEST

Suite *islands_suite(void)
{
    Suite *suite = suite_create("islands");
    TCase *tests = tcase_create("islands");
    tcase_add_test(tests, hides_what_nowhere_reaches_the_peak);
    tcase_add_test(tests, agrees_with_spreading_marks);
    suite_add_tcase(suite, tests);
    return suite;
}
