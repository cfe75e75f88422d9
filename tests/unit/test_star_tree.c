#include "stars/star_tree.h"

#include "base/random.h"
#include "near.h"

#include <math.h>

Suite *star_tree_suite(void);

enum { MOST = 500 };

static void scatter(struct star_list *list, struct star *star, int count, double extent,
                    struct random *random)
{
    *list = (struct star_list){.star = star, .count = count};
    for (int i = 0; i < count; i++) {
        star[i] = (struct star){.x = random_between(random, -extent, extent),
                                .y = random_between(random, -extent, extent)};
    }
}

static int nearest_of_all(const struct star_list *list, double x, double y, double reach)
{
    int nearest = -1;
    double least = reach;
    for (int i = 0; i < list->count; i++) {
        double d = hypot(list->star[i].x - x, list->star[i].y - y);
        if (d <= least) {
            least = d;
            nearest = i;
        }
    }
    return nearest;
}

static struct star_tree *make(const struct star_list *list)
{
    struct star_tree *tree = star_tree_make(list);
    ck_assert_ptr_nonnull(tree);
    return tree;
}

START_TEST(test_as_if_all_were_looked_at)
{
    static const int counts[] = {1, 2, 3, 10, 100, MOST};
    static struct star star[MOST];
    struct random random = {1};
    for (size_t c = 0; c < sizeof counts / sizeof counts[0]; c++) {
        struct star_list list;
        scatter(&list, star, counts[c], 1000, &random);
        struct star_tree *tree = make(&list);
        for (int i = 0; i < 2000; i++) {
            double x = random_between(&random, -1300, 1300);
            double y = random_between(&random, -1300, 1300);
            double reach = exp(random_between(&random, 0, 8));
            ck_assert_int_eq(star_tree_nearest(tree, x, y, reach),
                             nearest_of_all(&list, x, y, reach));
        }
        star_tree_free(tree);
    }
}
END_TEST

/* Reach is a distance, not the half side of a square: the corner of the square is out of it. */
START_TEST(test_reach_is_a_distance)
{
    struct star star[1] = {{.x = 3, .y = 4}};
    const struct star_list list = {.star = star, .count = 1};
    struct star_tree *tree = make(&list);
    ck_assert_int_eq(star_tree_nearest(tree, 0, 0, 5.001), 0);
    ck_assert_int_eq(star_tree_nearest(tree, 0, 0, 4.999), -1);
    ck_assert_int_eq(star_tree_nearest(tree, 3, 4, 0.001), 0);
    ck_assert_int_eq(star_tree_nearest(tree, 8.001, 4, 5), -1);
    star_tree_free(tree);
}
END_TEST

START_TEST(test_stars_on_top_of_each_other)
{
    static struct star star[64];
    struct star_list list = {.star = star, .count = 64};
    for (int i = 0; i < 64; i++) {
        star[i] = (struct star){.x = i < 60 ? 7 : 100, .y = i < 60 ? -7 : 100};
    }
    struct star_tree *tree = make(&list);
    int found = star_tree_nearest(tree, 7.5, -7, 1);
    ck_assert(found >= 0 && found < 60);
    ck_assert_int_ge(star_tree_nearest(tree, 90, 90, 20), 60);
    ck_assert_int_eq(star_tree_nearest(tree, 50, 50, 20), -1);
    star_tree_free(tree);
}
END_TEST

/* The tree keeps what it needs: the list may change afterwards. */
START_TEST(test_list_may_go)
{
    struct star star[2] = {{.x = 1, .y = 1}, {.x = 50, .y = 50}};
    const struct star_list list = {.star = star, .count = 2};
    struct star_tree *tree = make(&list);
    star[0].x = star[1].x = NAN;
    ck_assert_int_eq(star_tree_nearest(tree, 2, 1, 3), 0);
    ck_assert_int_eq(star_tree_nearest(tree, 51, 50, 3), 1);
    star_tree_free(tree);
}
END_TEST

START_TEST(test_no_stars)
{
    const struct star_list list = {0};
    struct star_tree *tree = make(&list);
    ck_assert_int_eq(star_tree_nearest(tree, 0, 0, 1e9), -1);
    star_tree_free(tree);
    star_tree_free(NULL);
}
END_TEST

Suite *star_tree_suite(void)
{
    Suite *suite = suite_create("star_tree");
    TCase *tests = tcase_create("nearest star");
    tcase_add_test(tests, test_as_if_all_were_looked_at);
    tcase_add_test(tests, test_reach_is_a_distance);
    tcase_add_test(tests, test_stars_on_top_of_each_other);
    tcase_add_test(tests, test_list_may_go);
    tcase_add_test(tests, test_no_stars);
    suite_add_tcase(suite, tests);
    return suite;
}
