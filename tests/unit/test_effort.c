#include "match/effort.h"

#include "match/solve.h"
#include "near.h"
#include "sky_fixture.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

Suite *effort_suite(void);

static struct model_stars model;

static void free_model(void)
{
    model_stars_free(&model);
}

enum { MARKED = 40 };

/* Forty stars far from each other, each the star of the same number. */
static void make_marked(struct verdict *verdict, struct star_list *list, struct star *star)
{
    *list = (struct star_list){star, MARKED, 2000, 1000, 0, 0, MARKED};
    *verdict = (struct verdict){.pairs = MARKED};
    for (int i = 0; i < MARKED; i++) {
        star[i] = (struct star){.x = 4 + 48 * i, .y = 20 + 8 * i};
        verdict->star[i] = (uint32_t)(1000 + i);
        verdict->detection[i] = i;
    }
}

START_TEST(test_failures_are_remembered)
{
    struct effort *effort = calloc(1, sizeof *effort);
    struct star star[MARKED];
    struct star_list list;
    struct verdict verdict;
    make_marked(&verdict, &list, star);
    int fits = 0;
    for (; fits < 100 && !effort_was_failure(effort, &verdict, false, &list); fits++) {
        effort_note_failure(effort, &verdict, false, &list);
    }
    /* More than one, since another quad of the region may fare better; not dozens. */
    ck_assert_int_ge(fits, 2);
    ck_assert_int_le(fits, 8);
    ck_assert(!effort_was_failure(effort, &verdict, true, &list));
    for (int i = 0; i < MARKED / 2; i++) {
        verdict.star[i] += 500;
    }
    ck_assert_msg(!effort_was_failure(effort, &verdict, false, &list), "half of it is new");
    verdict.star[0] -= 500;
    ck_assert(effort_was_failure(effort, &verdict, false, &list));
    for (int i = 0; i < MARKED; i++) {
        star[i].x += 20;
    }
    ck_assert_msg(!effort_was_failure(effort, &verdict, false, &list), "stars seen elsewhere");
    free(effort);
}
END_TEST

static int by_flux(const void *a, const void *b)
{
    double s = ((const struct star *)a)->flux, t = ((const struct star *)b)->flux;
    return s < t ? 1 : s > t ? -1 : 0;
}

/* The sky all around, longitudes and latitudes bent like a flag in the wind: patterns fit
 * everywhere, no camera model fits all of it. */
static void make_panorama(struct star_list *list, struct random *random)
{
    struct sky_view view = {0};
    struct error err = {0};
    double out[3], helper[3], right[3], down[3];
    const double width = 4000, height = 2000, focal_px = width / (2 * PI);
    random_direction(random, out);
    random_direction(random, helper);
    vector_cross(right, helper, out);
    vector_normalise(right);
    vector_cross(down, out, right);
    ck_assert_int_eq(starfield_look(&view, fixture_sky(), out, 180, 7, &err), 0);
    *list = (struct star_list){.width = width, .height = height};
    list->star = calloc((size_t)view.count, sizeof *list->star);
    for (int i = 0; i < view.count; i++) {
        const double *v = view.star[i].v;
        double X = vector_dot(v, right), Y = vector_dot(v, down), Z = vector_dot(v, out);
        double x = width / 2 + focal_px * atan2(X, Z) + 0.2 * random_normal(random);
        double y = height / 2 + focal_px * atan2(Y, hypot(X, Z)) + 0.2 * random_normal(random);
        x += 0.004 * width * sin(2 * PI * y / height);
        y += 0.005 * height * sin(6 * PI * x / width);
        if (y > 0 && y < height && x > 0 && x < width) {
            list->star[list->count++] =
                (struct star){.x = x,
                              .y = y,
                              .flux = pow(10, -0.4 * (double)view.star[i].mag),
                              .size = 1.2,
                              .elongation = 1,
                              .snr = 30};
        }
    }
    qsort(list->star, (size_t)list->count, sizeof *list->star, by_flux);
    sky_view_free(&view);
}

/* What a panorama costs when so much may be spent. */
static long spend_on(const struct star_list *list, long most)
{
    struct effort *effort = calloc(1, sizeof *effort);
    const struct solve_options nothing = {0};
    struct solution solution = {0};
    struct error err = {0};
    effort->most = most;
    ck_assert_int_eq(solve_stars_within(&solution, effort, list, fixture_bundled(), &nothing, &err),
                     0);
    long spent = effort->spent;
    ck_assert_msg(!solution.solved, "a sky in waves is no camera's picture");
    ck_assert_msg(strstr(solution.why, "a pattern of them fits"), "%s", solution.why);
    solution_free(&solution);
    free(effort);
    return spent;
}

START_TEST(test_refusal_is_bounded)
{
    /* The last step that may begin is a fit; of 5,000 stars in both ways it takes about so much. */
    const long last_fit = 500000;
    struct random random = {3};
    for (int round = 0; round < 3; round++) {
        struct star_list list;
        long most = solve_effort_until(DETECT_RECIPES - 1);
        make_panorama(&list, &random);
        ck_assert_int_le(spend_on(&list, most), most + last_fit);
        ck_assert_int_le(spend_on(&list, 300000), 300000 + last_fit);
        free(list.star);
    }
}
END_TEST

/* Each recipe may use more than those before, so that none is shut out. */
START_TEST(test_recipes_share)
{
    long before = 0;
    for (int recipe = 0; recipe < DETECT_RECIPES; recipe++) {
        ck_assert_int_ge(solve_effort_until(recipe), before + 400000);
        before = solve_effort_until(recipe);
    }
}
END_TEST

/* A usual picture is solved with a small part of what may be spent, and its answer has nothing to
 * do with how much that is. */
START_TEST(test_answers_do_not_depend_on_it)
{
    struct random random = {5};
    for (int round = 0; round < 10; round++) {
        struct model_options options = sky_usual(6 + 3 * round, 200);
        const struct solve_options nothing = {0};
        struct solution one = {0}, other = {0};
        struct error err = {0};
        struct effort *effort = calloc(1, sizeof *effort);
        effort->most = LONG_MAX;
        sky_point(&options, round, &random);
        sky_look(&model, &options);
        ck_assert_int_eq(solve_stars(&one, &model.list, fixture_bundled(), &nothing, &err), 0);
        ck_assert_int_eq(
            solve_stars_within(&other, effort, &model.list, fixture_bundled(), &nothing, &err), 0);
        ck_assert(one.solved && other.solved);
        ck_assert_mem_eq(&one.wcs, &other.wcs, sizeof one.wcs);
        ck_assert_int_lt(effort->spent, solve_effort_until(0) / 2);
        solution_free(&one);
        solution_free(&other);
        free(effort);
    }
}
END_TEST

Suite *effort_suite(void)
{
    Suite *suite = suite_create("effort");
    TCase *marks = tcase_create("failures");
    tcase_add_test(marks, test_failures_are_remembered);
    tcase_add_test(marks, test_recipes_share);
    suite_add_tcase(suite, marks);
    TCase *bound = tcase_create("bound");
    tcase_set_timeout(bound, 60);
    tcase_add_unchecked_fixture(bound, fixture_open_bundled, fixture_close_bundled);
    tcase_add_checked_fixture(bound, NULL, free_model);
    tcase_add_test(bound, test_refusal_is_bounded);
    tcase_add_test(bound, test_answers_do_not_depend_on_it);
    suite_add_tcase(suite, bound);
    return suite;
}
