#include "stars/background.h"

#include "base/random.h"
#include "near.h"
#include "stars/sky_cell.h"

#include <check.h>
#include <math.h>
#include <sep.h>
#include <stdlib.h>

Suite *background_suite(void);

enum { MOST = 40000 };

/* Mean of mode and rms over many cells of n values, some of them stars. */
static void measure_many(double *mode, double *rms, int n, double level, double noise, double stars)
{
    static float value[MOST];
    struct random random = {11};
    int cells = 2000000 / n;
    *mode = *rms = 0;
    for (int k = 0; k < cells; k++) {
        float m, s;
        for (int i = 0; i < n; i++) {
            value[i] = (float)(level + noise * random_normal(&random));
            if (random_uniform(&random) < stars) {
                value[i] += (float)(noise * 20 / (0.01 + random_uniform(&random)));
            }
        }
        sky_cell_measure(&m, &s, value, n, 0);
        *mode += (double)m / cells;
        *rms += (double)s / cells;
    }
}

/* A normal distribution that is clipped at three rms keeps 0.9867 of it, and clipped again at three
 * of those 0.985 (the integrals in closed form). */
START_TEST(measures_the_noise)
{
    static const int sizes[] = {64, 256, 2500, MOST};
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        double mode, rms;
        measure_many(&mode, &rms, sizes[k], 800, 8, 0);
        assert_near(mode, 800, 0.02 * 8, "units");
        assert_near(rms, 0.985 * 8, 0.015 * 8, "units");
    }
}
END_TEST

/* Stars on a twentieth of the pixels: 5 % more noise, a tenth of it as much sky, at most. */
START_TEST(leaves_stars_out)
{
    double mode, rms;
    measure_many(&mode, &rms, 256, 800, 8, 0.05);
    assert_near(mode, 800, 0.1 * 8, "units");
    assert_near(rms, 8, 0.06 * 8, "units");
}
END_TEST

START_TEST(takes_odd_values)
{
    float value[16], mode, rms;
    for (int i = 0; i < 16; i++) {
        value[i] = 7;
    }
    sky_cell_measure(&mode, &rms, value, 16, 0);
    assert_near((double)mode, 7, 0, "units");
    assert_near((double)rms, 0, 0, "units");
    value[3] = 60000;
    sky_cell_measure(&mode, &rms, value, 16, 0);
    assert_near((double)mode, 7, 0.01, "units");
    value[0] = 5;
    sky_cell_measure(&mode, &rms, value, 1, 0);
    assert_near((double)mode, 5, 0, "units");
    for (int i = 0; i < 16; i++) {
        value[i] = i % 2 ? 1e30F : -1e30F;
    }
    sky_cell_measure(&mode, &rms, value, 16, 0);
    ck_assert(isfinite(mode) || isnan(mode));
}
END_TEST

enum { WIDTH = 600, HEIGHT = 400, MESH = 50 };

static void fill_plane(float *value, double stars, double gradient)
{
    struct random random = {21};
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        value[i] = (float)(800 + gradient * (i % WIDTH) + 8 * random_normal(&random));
        if (random_uniform(&random) < stars) {
            value[i] += (float)(200 / (0.01 + random_uniform(&random)));
        }
    }
}

/* SEP 1.2 on the same plane: level and noise of both scatter by a tenth of the noise in a cell of
 * 2500 pixels, and by less after the filter. */
START_TEST(agrees_with_sep)
{
    static float value[WIDTH * HEIGHT];
    static const struct {
        double stars, gradient;
    } cases[] = {{0, 0}, {0.02, 0}, {0.02, 0.5}};
    for (size_t n = 0; n < sizeof cases / sizeof *cases; n++) {
        struct background b;
        struct error err = {0};
        sep_bkg *other = NULL;
        sep_image image = {.data = value, .dtype = SEP_TFLOAT, .w = WIDTH, .h = HEIGHT};
        fill_plane(value, cases[n].stars, cases[n].gradient);
        ck_assert_int_eq(background_measure(&b, NULL, value, WIDTH, HEIGHT, MESH, 1, 1, &err), 0);
        ck_assert_int_eq(sep_background(&image, MESH, MESH, 3, 3, 0, &other), 0);
        ck_assert_int_eq(b.columns, other->nx);
        ck_assert_int_eq(b.rows, other->ny);
        for (int i = 0; i < b.columns * b.rows; i++) {
            assert_near((double)b.level[i], (double)other->back[i], 1.0, "units");
            assert_near((double)b.noise[i], (double)other->sigma[i], 0.05 * 8 + 0.03 * MESH / 2,
                        "units");
        }
        assert_near(b.typical_noise, (double)other->globalrms, 0.04 * 8, "units");
        sep_bkg_free(other);
        background_free(&b);
    }
}
END_TEST

/* A second look takes off what a slope adds to the noise: 50 pixels of it are twice the noise here.
 * And threads change no bit. */
START_TEST(looks_twice)
{
    static float value[WIDTH * HEIGHT];
    struct background once, twice, threaded;
    struct error err = {0};
    fill_plane(value, 0.02, 0.5);
    ck_assert_int_eq(background_measure(&once, NULL, value, WIDTH, HEIGHT, MESH, 1, 1, &err), 0);
    struct background_rest rest = {0}, other = {0};
    ck_assert_int_eq(background_measure(&twice, &rest, value, WIDTH, HEIGHT, MESH, 1, 1, &err), 0);
    ck_assert_int_eq(background_measure(&threaded, &other, value, WIDTH, HEIGHT, MESH, 1, 3, &err),
                     0);
    ck_assert_double_gt(once.typical_noise, 1.2 * 8);
    assert_near(twice.typical_noise, 8, 0.04 * 8, "units");
    /* A mode scatters by twice the noise over the root of the pixels, 0.3 here; beyond the middles
     * of the outer cells a slope is cut off. */
    for (int i = 60; i < WIDTH - 60; i += 7) {
        assert_near(background_level(&twice, i, 200), 800 + 0.5 * i, 1.2, "units");
    }
    size_t n = (size_t)twice.columns * (size_t)twice.rows * sizeof(float);
    ck_assert_mem_eq(twice.level, threaded.level, n);
    ck_assert_mem_eq(twice.noise, threaded.noise, n);
    background_free(&once);
    background_free(&twice);
    background_free(&threaded);
    background_rest_free(&rest);
    background_rest_free(&other);
}
END_TEST

/* Other meshes after a first one have the nodes that they had by themselves, and the truth within
 * what a mode scatters by in a cell, twice the noise over the root of its pixels. On a slope, with
 * stars.
 */
START_TEST(goes_to_other_meshes)
{
    static float value[WIDTH * HEIGHT];
    static const int meshes[] = {21, 30, 110};
    struct background first, again, alone, threaded;
    struct background_rest rest = {0};
    struct error err = {0};
    fill_plane(value, 0.02, 0.5);
    ck_assert_int_eq(background_measure(&first, &rest, value, WIDTH, HEIGHT, MESH, 1, 1, &err), 0);
    for (size_t k = 0; k < sizeof meshes / sizeof *meshes; k++) {
        struct background_rest other = {0};
        int mesh = meshes[k];
        double scatter = 2 * 8.0 / (mesh < MESH ? mesh : MESH);
        ck_assert_int_eq(background_again(&again, &rest, &first, mesh, 1, &err), 0);
        ck_assert_int_eq(background_again(&threaded, &rest, &first, mesh, 3, &err), 0);
        ck_assert_int_eq(background_measure(&alone, &other, value, WIDTH, HEIGHT, mesh, 1, 1, &err),
                         0);
        ck_assert_int_eq(again.columns, alone.columns);
        ck_assert_int_eq(again.rows, alone.rows);
        assert_near(again.cell, alone.cell, 0, "px");
        assert_near(again.typical_noise, 8, 0.04 * 8, "units");
        for (int i = mesh; i < WIDTH - mesh; i += 7) {
            assert_near(background_level(&again, i, 200), 800 + 0.5 * i, 4 * scatter, "units");
        }
        size_t n = (size_t)again.columns * (size_t)again.rows * sizeof(float);
        ck_assert_mem_eq(again.level, threaded.level, n);
        ck_assert_mem_eq(again.noise, threaded.noise, n);
        background_free(&again);
        background_free(&threaded);
        background_free(&alone);
        background_rest_free(&other);
    }
    background_free(&first);
    background_rest_free(&rest);
}
END_TEST

/* A row's pieces are what lies between the nodes. */
START_TEST(goes_along_rows)
{
    static float level[6 * 4] = {3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8,
                                 9, 7, 9, 3, 2, 3, 8, 4, 6, 2, 6, 4};
    static const double cells[] = {7, 8};
    for (size_t k = 0; k < sizeof cells / sizeof *cells; k++) {
        struct background b = {.columns = 6, .rows = 4, .cell = cells[k], .level = level};
        int width = (int)(6 * cells[k]) - 3;
        for (int y = 0; y < 4 * cells[k]; y++) {
            struct background_row row = background_row(&b, y);
            int x = 0;
            for (int piece = 0; piece <= b.columns; piece++) {
                int end = background_piece_end(&b, piece, width);
                struct straight s = background_piece(&row, level, piece, x);
                for (int from = x; x < end; x++) {
                    assert_near((double)(s.first + s.step * (float)(x - from)),
                                background_level(&b, x, y), 1e-5, "units");
                }
            }
            ck_assert_int_eq(x, width);
        }
    }
}
END_TEST

/* Half of the plane has no data: it is taken as going on, and nothing is left undefined. */
START_TEST(bridges_gaps)
{
    static float value[WIDTH * HEIGHT];
    struct background b;
    struct background_rest rest = {0};
    struct error err = {0};
    fill_plane(value, 0, 0);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        if (i % WIDTH + i / WIDTH < 500) {
            value[i] = i % 2 ? NAN : -INFINITY;
        }
    }
    ck_assert_int_eq(background_measure(&b, &rest, value, WIDTH, HEIGHT, MESH, 3, 2, &err), 0);
    /* The mode of 16 x 16 pixels scatters by 1, the rms by 0.35. */
    assert_near(background_level(&b, 5, 5), 800, 3, "units");
    assert_near(background_noise(&b, 5, 5), 8, 1, "units");
    background_free(&b);
    background_rest_free(&rest);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        value[i] = NAN;
    }
    ck_assert_int_eq(background_measure(&b, &rest, value, WIDTH, HEIGHT, MESH, 3, 2, &err), 0);
    assert_near(background_level(&b, 300, 200), 0, 0, "units");
    background_free(&b);
    background_rest_free(&rest);
}
END_TEST

Suite *background_suite(void)
{
    Suite *suite = suite_create("background");
    TCase *tests = tcase_create("background");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, measures_the_noise);
    tcase_add_test(tests, leaves_stars_out);
    tcase_add_test(tests, takes_odd_values);
    tcase_add_test(tests, agrees_with_sep);
    tcase_add_test(tests, looks_twice);
    tcase_add_test(tests, goes_to_other_meshes);
    tcase_add_test(tests, goes_along_rows);
    tcase_add_test(tests, bridges_gaps);
    suite_add_tcase(suite, tests);
    return suite;
}
