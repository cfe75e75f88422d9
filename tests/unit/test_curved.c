#include "match/curved_camera.h"

#include "match/solve.h"
#include "near.h"
#include "sky_fixture.h"

#include <stdlib.h>
#include <string.h>

Suite *curved_suite(void);

static const double half_px = 1800;

static struct curved_camera camera_of(enum projection_kind kind, struct random *random)
{
    struct curved_camera camera = {.kind = kind, .focal_px = 900, .unit_px = half_px};
    double helper[3];
    random_direction(random, camera.axis[2]);
    random_direction(random, helper);
    vector_cross(camera.axis[0], helper, camera.axis[2]);
    vector_normalise(camera.axis[0]);
    vector_cross(camera.axis[1], camera.axis[2], camera.axis[0]);
    if (!projection_is_cylinder(kind)) {
        camera.x = 14;
        camera.term[0] = 0.02;
        camera.term[1] = -0.01;
    }
    camera.y = -23;
    return camera;
}

/* Within 60 degrees of the axis, and of a cylinder's horizon. */
static void direction_near(double v[3], const struct curved_camera *camera, struct random *random)
{
    do {
        random_direction(random, v);
    } while (vector_dot(v, camera->axis[2]) < 0.5);
}

START_TEST(test_wcs_of_a_camera_is_the_camera)
{
    struct random random = {5};
    for (int kind = PROJECTION_ARC; kind < PROJECTION_KINDS; kind++) {
        for (int i = 0; i < 200; i++) {
            struct curved_camera camera = camera_of((enum projection_kind)kind, &random);
            struct wcs wcs;
            double v[3], p[2], x, y, hand = i % 2 ? -1 : 1;
            direction_near(v, &camera, &random);
            curved_wcs(&wcs, &camera, 3000, 2000, i % 2);
            ck_assert(curved_project(p, &camera, v));
            ck_assert(wcs_pixel(&x, &y, &wcs, v));
            assert_near(x, 1499.5 + hand * p[0], 1e-5, "px");
            assert_near(y, 999.5 + p[1], 1e-5, "px");
        }
    }
}
END_TEST

START_TEST(test_fit_finds_the_camera)
{
    enum { STARS = 60 };
    struct random random = {6};
    const struct curved_prior prior = {90, {0.2, 0.1, 0}};
    for (int kind = PROJECTION_ARC; kind < PROJECTION_KINDS; kind++) {
        struct curved_camera truth = camera_of((enum projection_kind)kind, &random), camera = truth;
        struct curved_sighting sighting[STARS];
        double p[2];
        for (int i = 0; i < STARS; i++) {
            direction_near(sighting[i].v, &truth, &random);
            ck_assert(curved_project(sighting[i].p, &truth, sighting[i].v));
        }
        camera.focal_px *= 1.03;
        camera.x = camera.y = 0;
        memset(camera.term, 0, sizeof camera.term);
        for (int i = 0; i < 3; i++) {
            vector_turn(camera.axis[i], sighting[0].v, 2);
        }
        for (int round = 0; round < 3; round++) {
            ck_assert(curved_fit(&camera, sighting, STARS, 0.3, &prior));
        }
        for (int i = 0; i < STARS; i++) {
            ck_assert(curved_project(p, &camera, sighting[i].v));
            assert_near(p[0], sighting[i].p[0], 0.02, "px");
            assert_near(p[1], sighting[i].p[1], 0.02, "px");
            ck_assert(curved_variance(&camera, sighting[i].v) < 0.09);
        }
    }
}
END_TEST

/* The stated error of a place is what fits of noisy places scatter by. */
START_TEST(test_variance_is_that_of_the_places)
{
    enum { STARS = 40, ROUNDS = 60 };
    struct random random = {7};
    const struct curved_prior prior = {90, {0.2, 0.1, 0}};
    struct curved_camera truth = camera_of(PROJECTION_ARC, &random);
    double v[3], p[2], at[2], square = 0, stated = 0;
    const double noise_px = 0.4;
    direction_near(v, &truth, &random);
    ck_assert(curved_project(at, &truth, v));
    for (int round = 0; round < ROUNDS; round++) {
        struct curved_camera camera = truth;
        struct curved_sighting sighting[STARS];
        for (int i = 0; i < STARS; i++) {
            direction_near(sighting[i].v, &truth, &random);
            ck_assert(curved_project(sighting[i].p, &truth, sighting[i].v));
            sighting[i].p[0] += noise_px * random_normal(&random);
            sighting[i].p[1] += noise_px * random_normal(&random);
        }
        ck_assert(curved_fit(&camera, sighting, STARS, noise_px, &prior));
        ck_assert(curved_project(p, &camera, v));
        square += ((p[0] - at[0]) * (p[0] - at[0]) + (p[1] - at[1]) * (p[1] - at[1])) / 2;
        stated += curved_variance(&camera, v);
    }
    /* 120 numbers are known to 13 %; residuals count less as they grow, which adds a little. */
    assert_near(sqrt(square / stated), 1, 0.3, "share");
}
END_TEST

static int by_flux(const void *a, const void *b)
{
    const struct star *s = a, *t = b;
    return s->flux > t->flux ? -1 : s->flux < t->flux;
}

/* Places of the sky's stars as the camera sees them, with 0.3 px of noise, the brightest most. */
static void look_through(struct star_list *list, const struct curved_camera *camera, int most,
                         bool mirrored, struct random *random)
{
    struct sky_view view = {0};
    struct error err = {0};
    *list = (struct star_list){.width = 3000, .height = 2000};
    ck_assert(!starfield_look(&view, fixture_sky(), camera->axis[2], 95, 7, &err));
    list->star = calloc((size_t)view.count, sizeof *list->star);
    ck_assert_ptr_nonnull(list->star);
    for (int i = 0; i < view.count; i++) {
        double p[2];
        if (!curved_project(p, camera, view.star[i].v) || fabs(p[0]) > 1499 || fabs(p[1]) > 999) {
            continue;
        }
        struct star *star = &list->star[list->count++];
        *star = (struct star){.x = 1499.5 + (mirrored ? -p[0] : p[0]) + 0.3 * random_normal(random),
                              .y = 999.5 + p[1] + 0.3 * random_normal(random),
                              .flux = pow(10, -0.4 * (double)view.star[i].mag),
                              .size = 1.2,
                              .elongation = 1,
                              .snr = 50};
    }
    qsort(list->star, (size_t)list->count, sizeof *list->star, by_flux);
    list->count = list->count < most ? list->count : most;
    sky_view_free(&view);
}

START_TEST(test_fisheyes_and_panoramas_are_solved)
{
    struct random random = {8};
    for (int i = 0; i < 12; i++) {
        enum projection_kind kind = (enum projection_kind)(PROJECTION_ARC + i % 6);
        struct curved_camera camera = camera_of(kind, &random);
        struct star_list list;
        struct solution solution = {0};
        struct solve_options options = {0};
        struct error err = {0};
        struct wcs truth;
        look_through(&list, &camera, 700, i % 2, &random);
        ck_assert_int_eq(solve_stars(&solution, &list, fixture_bundled(), &options, &err), 0);
        ck_assert_msg(solution.solved, "%s: %s", projection_code(kind), solution.why);
        ck_assert_str_eq(projection_code(solution.wcs.projection), projection_code(kind));
        curved_wcs(&truth, &camera, 3000, 2000, i % 2);
        for (int k = 0; k < 200; k++) {
            double v[3], x, y, is_x, is_y;
            direction_near(v, &camera, &random);
            if (wcs_pixel(&x, &y, &solution.wcs, v) && wcs_inside(&truth, x, y)) {
                ck_assert(wcs_pixel(&is_x, &is_y, &truth, v));
                assert_near(hypot(x - is_x, y - is_y), 0, 1, "px");
            }
        }
        ck_assert(solution.wcs.reach_deg > 45);
        solution_free(&solution);
        free(list.star);
    }
}
END_TEST

Suite *curved_suite(void)
{
    Suite *suite = suite_create("curved");
    TCase *tests = tcase_create("curved");
    tcase_add_unchecked_fixture(tests, fixture_open_bundled, fixture_close_bundled);
    tcase_set_timeout(tests, 120);
    tcase_add_test(tests, test_wcs_of_a_camera_is_the_camera);
    tcase_add_test(tests, test_fit_finds_the_camera);
    tcase_add_test(tests, test_variance_is_that_of_the_places);
    tcase_add_test(tests, test_fisheyes_and_panoramas_are_solved);
    suite_add_tcase(suite, tests);
    return suite;
}
