/* Which parts of a frame show sky. */
#include "health/foreground.h"

#include "index_fixture.h"

#include <check.h>

Suite *foreground_suite(void);

static struct foreground foreground;

/* 400 stars in a 2000 x 2000 px frame, evenly; seen above a roof at y = 1500. */
static void make_roof(void)
{
    foreground.stars = 0;
    for (int i = 0; i < 400; i++) {
        double x = 50 + 100 * (i % 20), y = 50 + 100 * (i / 20);
        foreground.star[foreground.stars].x = x;
        foreground.star[foreground.stars].y = y;
        foreground.star[foreground.stars++].seen = y < 1500;
    }
}

START_TEST(what_is_behind_a_roof_is_hidden)
{
    ck_assert(!foreground_hides(&foreground, 1000, 300));
    ck_assert(!foreground_hides(&foreground, 20, 1300));
    ck_assert(foreground_hides(&foreground, 1000, 1800));
    ck_assert(foreground_hides(&foreground, 1980, 1980));
    ck_assert(foreground_shows_star(&foreground, 950, 1450));
    ck_assert(!foreground_shows_star(&foreground, 950, 1550));
    ck_assert(!foreground_shows_star(&foreground, 950, 1850));
}
END_TEST

/* The six stars of a nebula's core are lost in its light. */
START_TEST(a_nebula_is_no_roof)
{
    for (int i = 0; i < 6; i++) {
        foreground.star[i].x = 1000 + 3 * i;
        foreground.star[i].y = 500;
        foreground.star[i].seen = false;
    }
    ck_assert(!foreground_hides(&foreground, 1000, 500));
}
END_TEST

/* Its glare, or a neighbour's, may be why one star is missing. */
START_TEST(a_single_missing_star_is_named_all_the_same)
{
    foreground.star[105].seen = false;
    ck_assert(foreground_shows_star(&foreground, foreground.star[105].x, foreground.star[105].y));
}
END_TEST

START_TEST(without_stars_all_is_sky)
{
    static const struct foreground nothing;
    ck_assert(!foreground_hides(&nothing, 5, 5));
    ck_assert(foreground_shows_star(&nothing, 5, 5));
}
END_TEST

/* 14 stars around a place, the n-th n times 10 px away; seen are those of the list, which ends with
 * a 0. */
static void see(const int *numbers)
{
    foreground.stars = 14;
    for (int i = 0; i < 14; i++) {
        foreground.star[i].x = 1000 + 10 * (i + 1);
        foreground.star[i].y = 1000;
        foreground.star[i].seen = false;
    }
    for (int i = 0; numbers[i]; i++) {
        foreground.star[numbers[i] - 1].seen = true;
    }
}

static bool hides(const int *numbers)
{
    see(numbers);
    return foreground_hides(&foreground, 1000, 1000);
}

/* Of the six nearest stars one may be seen, of the fourteen nearest three. */
START_TEST(a_roof_leaves_one_of_six_stars_and_three_of_fourteen)
{
    ck_assert(hides((const int[]){1, 7, 8, 0}));
    ck_assert(!hides((const int[]){1, 6, 0}));
    ck_assert(!hides((const int[]){1, 2, 0}));
    ck_assert(!hides((const int[]){7, 8, 9, 10, 0}));
    ck_assert(!hides((const int[]){7, 8, 9, 14, 0}));
}
END_TEST

/* A named star whose place differs by so many px from the nearest one's, the only one seen. */
static bool shows_if_off(double off_px)
{
    see((const int[]){1, 0});
    return foreground_shows_star(&foreground, 1010 - off_px, 1000);
}

START_TEST(a_name_and_a_star_are_one_within_three_pixels)
{
    ck_assert(shows_if_off(2.8));
    ck_assert(!shows_if_off(3.2));
}
END_TEST

/* However few were matched, 40 are looked for: 10 degrees of sky hold more. */
START_TEST(forty_stars_draw_the_skyline)
{
    const double scale = 30 / 3600.0;
    const struct solution solution = {.solved = true,
                                      .wcs = {.ra_deg = 83,
                                              .x = 599.5,
                                              .y = 399.5,
                                              .cd = {{-scale, 0}, {0, -scale}},
                                              .width = 1200,
                                              .height = 800}};
    ck_assert_int_eq(foreground_find(&foreground, &solution, fixture_bundled(), NULL), 0);
    ck_assert_int_eq(foreground.stars, 40);
}
END_TEST

Suite *foreground_suite(void)
{
    Suite *suite = suite_create("foreground");
    TCase *all = tcase_create("all");
    tcase_add_checked_fixture(all, make_roof, NULL);
    tcase_add_test(all, what_is_behind_a_roof_is_hidden);
    tcase_add_test(all, a_nebula_is_no_roof);
    tcase_add_test(all, a_single_missing_star_is_named_all_the_same);
    tcase_add_test(all, without_stars_all_is_sky);
    tcase_add_test(all, a_roof_leaves_one_of_six_stars_and_three_of_fourteen);
    tcase_add_test(all, a_name_and_a_star_are_one_within_three_pixels);
    suite_add_tcase(suite, all);
    TCase *found = tcase_create("found");
    tcase_add_unchecked_fixture(found, fixture_open_bundled, fixture_close_bundled);
    tcase_add_test(found, forty_stars_draw_the_skyline);
    suite_add_tcase(suite, found);
    return suite;
}
