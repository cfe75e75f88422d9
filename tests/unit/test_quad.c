#include "match/quad.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/lens.h"
#include "near.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

Suite *quad_suite(void);

enum { ROUNDS = 2000 };

/* Rounding in a shape: a few units in the last place of numbers up to 1, times the spread of a
 * random quad over its diameter. */
static const double rounding = 1e-11;

static void random_points(double point[4][2], struct random *random)
{
    for (int i = 0; i < 4; i++) {
        point[i][0] = random_between(random, -1, 1);
        point[i][1] = random_between(random, -1, 1);
    }
}

static void shuffle(int order[4], struct random *random)
{
    for (int i = 3; i > 0; i--) {
        int k = (int)(random_uniform(random) * (i + 1)), t = order[i];
        order[i] = order[k];
        order[k] = t;
    }
}

static void assert_same_shape(const double got[4], const double want[4], double tolerance)
{
    for (int i = 0; i < 4; i++) {
        assert_near(got[i], want[i], tolerance, "shape");
    }
}

static double distance(const double a[2], const double b[2])
{
    return hypot(a[0] - b[0], a[1] - b[1]);
}

/* Moved, turned, scaled and listed in another order, four points keep their shape and names. */
START_TEST(test_code_ignores_place_turn_scale_and_order)
{
    struct random random = {1};
    for (int round = 0; round < ROUNDS; round++) {
        double point[4][2], moved[4][2], shape[4], again[4], diameter, wider;
        int order[4], named[4], listed[4] = {0, 1, 2, 3};
        random_points(point, &random);
        ck_assert(quad_shape(shape, order, &diameter, point));
        shuffle(listed, &random);
        double turn = random_between(&random, 0, 2 * PI);
        double scale = exp(random_between(&random, -9, 9));
        double x = random_between(&random, -3, 3), y = random_between(&random, -3, 3);
        for (int i = 0; i < 4; i++) {
            const double *p = point[listed[i]];
            moved[i][0] = scale * (x + p[0] * cos(turn) - p[1] * sin(turn));
            moved[i][1] = scale * (y + p[0] * sin(turn) + p[1] * cos(turn));
        }
        ck_assert(quad_shape(again, named, &wider, moved));
        assert_same_shape(again, shape, rounding);
        assert_near(wider / (scale * diameter), 1, rounding, "ratio");
        for (int i = 0; i < 4; i++) {
            ck_assert_int_eq(listed[named[i]], order[i]);
        }
    }
}
END_TEST

/* The rules of the header, and that the shape with A and B gives C and D back. */
START_TEST(test_code_keeps_its_rules)
{
    struct random random = {2};
    for (int round = 0; round < ROUNDS; round++) {
        double point[4][2], shape[4], diameter;
        int order[4];
        random_points(point, &random);
        ck_assert(quad_shape(shape, order, &diameter, point));
        const double *a = point[order[0]], *b = point[order[1]];
        assert_near(distance(a, b), diameter, 1e-15 * 4, "unit");
        for (int i = 0; i < 4; i++) {
            for (int k = 0; k < i; k++) {
                ck_assert(distance(point[i], point[k]) <= diameter * (1 + 1e-15));
            }
        }
        for (int i = 0; i < 2; i++) {
            double re = shape[2 * i], im = shape[2 * i + 1];
            ck_assert(re >= 0 && re <= 1 && fabs(im) <= sqrt(0.75) + 1e-12);
            assert_near(a[0] + re * (b[0] - a[0]) - im * (b[1] - a[1]), point[order[2 + i]][0],
                        rounding, "unit");
            assert_near(a[1] + re * (b[1] - a[1]) + im * (b[0] - a[0]), point[order[2 + i]][1],
                        rounding, "unit");
        }
        ck_assert(shape[0] <= shape[2] && shape[0] + shape[2] <= 1 + 1e-15);
    }
}
END_TEST

/* What the mirror shows is the shape of the mirrored points, and twice mirrored is as before. */
START_TEST(test_mirror)
{
    struct random random = {3};
    for (int round = 0; round < ROUNDS; round++) {
        double point[4][2], shape[4], mirrored[4], diameter;
        int order[4], seen[4], made[4];
        double direct[4];
        random_points(point, &random);
        ck_assert(quad_shape(shape, order, &diameter, point));
        memcpy(mirrored, shape, sizeof shape);
        memcpy(seen, order, sizeof order);
        quad_mirror(mirrored, seen);
        for (int i = 0; i < 4; i++) {
            point[i][1] = -point[i][1];
        }
        ck_assert(quad_shape(direct, made, &diameter, point));
        assert_same_shape(mirrored, direct, rounding);
        ck_assert_mem_eq(seen, made, sizeof seen);
        quad_mirror(mirrored, seen);
        assert_same_shape(mirrored, shape, 0);
        ck_assert_mem_eq(seen, order, sizeof seen);
    }
}
END_TEST

START_TEST(test_no_code_without_extent)
{
    double point[4][2] = {{3, 4}, {3, 4}, {3, 4}, {3, 4}};
    double shape[4] = {9, 9, 9, 9}, diameter = 9;
    int order[4] = {9, 9, 9, 9};
    ck_assert(!quad_shape(shape, order, &diameter, point));
    point[0][0] = NAN;
    point[1][0] = point[2][0] = point[3][0] = NAN;
    ck_assert(!quad_shape(shape, order, &diameter, point));
    for (int i = 0; i < 4; i++) {
        ck_assert(shape[i] == 9 && order[i] == 9);
    }
    ck_assert(diameter == 9);
}
END_TEST

/* A place on the sky to try things at: poles, the wrap of right ascension, anywhere. */
static void place_of_round(double v[3], int round, struct random *random)
{
    static const double special[][2] = {{0, 90},  {0, -90},       {0, 0},      {360, 0},
                                        {180, 0}, {359.9999, 89}, {0.0001, 1}, {123, 89.9999}};
    enum { SPECIAL = sizeof special / sizeof special[0] };
    if (round % 4 == 0) {
        vector_from_radec(v, special[round / 4 % SPECIAL][0], special[round / 4 % SPECIAL][1]);
    } else {
        random_direction(random, v);
    }
}

/* Four directions within radius (radians) of v. */
static void scatter(double direction[4][3], const double v[3], double radius, struct random *random)
{
    for (int i = 0; i < 4; i++) {
        double off[3];
        random_direction(random, off);
        for (int k = 0; k < 3; k++) {
            direction[i][k] = v[k] + radius * off[k];
        }
        vector_normalise(direction[i]);
    }
}

/* Turned with the whole sphere, four directions keep their shape. */
START_TEST(test_sky_plane_ignores_the_turn_of_the_sphere)
{
    struct random random = {4};
    for (int round = 0; round < ROUNDS; round++) {
        double v[3], direction[4][3], turned[4][3], axes[3][3], point[4][2], shape[4], again[4], d;
        int order[4], named[4];
        place_of_round(v, round, &random);
        scatter(direction, v, exp(random_between(&random, log(1e-4), log(0.5))), &random);
        random_direction(&random, axes[0]);
        random_direction(&random, v);
        vector_cross(axes[1], axes[0], v);
        vector_normalise(axes[1]);
        vector_cross(axes[2], axes[0], axes[1]);
        for (int i = 0; i < 4; i++) {
            for (int k = 0; k < 3; k++) {
                turned[i][k] = vector_dot(axes[k], direction[i]);
            }
        }
        ck_assert(quad_sky_plane(point, direction) && quad_shape(shape, order, &d, point));
        ck_assert(quad_sky_plane(point, turned) && quad_shape(again, named, &d, point));
        /* Directions are good to 2e-16 rad, the quad is 1e-4 rad and more in diameter. */
        assert_same_shape(again, shape, 1e-10);
        ck_assert_mem_eq(order, named, sizeof order);
    }
}
END_TEST

/* The plane has the hand of a picture that is not mirrored, wherever on the sky and however turned;
 * in a mirrored picture the mirrored shape is seen. */
START_TEST(test_sky_and_picture_agree)
{
    struct random random = {5};
    for (int round = 0; round < 500; round++) {
        double v[3], ra, dec, direction[4][3], plane[4][2], pixel[4][2], sky[4], picture[4], d;
        int order[4], named[4];
        struct lens lens = {
            .scale_arcsec = 10, .width = 4000, .height = 3000, .mirrored = round % 2};
        struct wcs wcs;
        place_of_round(v, round / 2, &random);
        vector_to_radec(&ra, &dec, v);
        lens_wcs(&wcs, &lens, ra, dec, random_between(&random, 0, 360));
        scatter(direction, v, 0.01, &random);
        for (int i = 0; i < 4; i++) {
            ck_assert(wcs_pixel(&pixel[i][0], &pixel[i][1], &wcs, direction[i]));
        }
        ck_assert(quad_sky_plane(plane, direction) && quad_shape(sky, order, &d, plane));
        ck_assert(quad_shape(picture, named, &d, pixel));
        if (lens.mirrored) {
            quad_mirror(picture, named);
        }
        /* The tangent points are up to 0.01 rad apart: second order, 1e-4, bends the shape. */
        assert_same_shape(picture, sky, 4e-4);
        ck_assert_mem_eq(order, named, sizeof order);
    }
}
END_TEST

START_TEST(test_sky_plane_has_an_edge)
{
    for (int degrees = 70; degrees <= 90; degrees += 4) {
        double direction[4][3], point[4][2];
        for (int i = 0; i < 4; i++) {
            vector_from_radec(direction[i], 90.0 * i + 30, 90 - degrees);
        }
        ck_assert_int_eq(quad_sky_plane(point, direction), degrees < 80);
    }
    double round_the_sky[4][3], point[4][2];
    for (int i = 0; i < 4; i++) {
        vector_from_radec(round_the_sky[i], 90.0 * i, 0);
    }
    ck_assert(!quad_sky_plane(point, round_the_sky));
}
END_TEST

Suite *quad_suite(void)
{
    Suite *suite = suite_create("quad");
    TCase *tests = tcase_create("shapes of four stars");
    tcase_add_test(tests, test_code_ignores_place_turn_scale_and_order);
    tcase_add_test(tests, test_code_keeps_its_rules);
    tcase_add_test(tests, test_mirror);
    tcase_add_test(tests, test_no_code_without_extent);
    tcase_add_test(tests, test_sky_plane_ignores_the_turn_of_the_sphere);
    tcase_add_test(tests, test_sky_and_picture_agree);
    tcase_add_test(tests, test_sky_plane_has_an_edge);
    suite_add_tcase(suite, tests);
    return suite;
}
