/* Which parts of a frame show sky. */
#include "health/skyline.h"

#include <check.h>

Suite *skyline_suite(void);

static struct skyline skyline;

/* 400 stars in a 2000 x 2000 px frame, evenly; seen above a roof at y = 1500. */
static void make_roof(void)
{
    skyline.stars = 0;
    for (int i = 0; i < 400; i++) {
        double x = 50 + 100 * (i % 20), y = 50 + 100 * (i / 20);
        skyline.star[skyline.stars].x = x;
        skyline.star[skyline.stars].y = y;
        skyline.star[skyline.stars++].seen = y < 1500;
    }
}

START_TEST(what_is_behind_a_roof_is_hidden)
{
    ck_assert(!skyline_hides(&skyline, 1000, 300));
    ck_assert(!skyline_hides(&skyline, 20, 1300));
    ck_assert(skyline_hides(&skyline, 1000, 1800));
    ck_assert(skyline_hides(&skyline, 1980, 1980));
    ck_assert(skyline_shows_star(&skyline, 950, 1450));
    ck_assert(!skyline_shows_star(&skyline, 950, 1550));
    ck_assert(!skyline_shows_star(&skyline, 950, 1850));
}
END_TEST

/* The six stars of a nebula's core are lost in its light. */
START_TEST(a_nebula_is_no_roof)
{
    for (int i = 0; i < 6; i++) {
        skyline.star[i].x = 1000 + 3 * i;
        skyline.star[i].y = 500;
        skyline.star[i].seen = false;
    }
    ck_assert(!skyline_hides(&skyline, 1000, 500));
}
END_TEST

/* Its glare, or a neighbour's, may be why one star is missing. */
START_TEST(a_single_missing_star_is_named_all_the_same)
{
    skyline.star[105].seen = false;
    ck_assert(skyline_shows_star(&skyline, skyline.star[105].x, skyline.star[105].y));
}
END_TEST

START_TEST(without_stars_all_is_sky)
{
    static const struct skyline nothing;
    ck_assert(!skyline_hides(&nothing, 5, 5));
    ck_assert(skyline_shows_star(&nothing, 5, 5));
}
END_TEST

Suite *skyline_suite(void)
{
    Suite *suite = suite_create("skyline");
    TCase *all = tcase_create("all");
    tcase_add_checked_fixture(all, make_roof, NULL);
    tcase_add_test(all, what_is_behind_a_roof_is_hidden);
    tcase_add_test(all, a_nebula_is_no_roof);
    tcase_add_test(all, a_single_missing_star_is_named_all_the_same);
    tcase_add_test(all, without_stars_all_is_sky);
    suite_add_tcase(suite, all);
    return suite;
}
