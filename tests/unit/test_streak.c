/* Lines across the sky, and what looks like one. */
#include "base/random.h"
#include "base/units.h"
#include "near.h"
#include "stars/streak.h"

#include <math.h>
#include <stdlib.h>

Suite *streak_suite(void);

enum { WIDTH = 900, HEIGHT = 600, STARS = 300 };

#define SKY 900.0
#define NOISE 8.0
#define SIGMA 1.2

/* A sky with noise, brighter to the right, and stars drawn out by trail px to the right; free with
 * sky_free. */
static struct frame make_sky(uint64_t seed, double trail)
{
    struct frame f = {.width = WIDTH, .height = HEIGHT};
    struct random r = {seed};
    f.luminance = (struct plane){.width = WIDTH, .height = HEIGHT, .bin = 1, .full = 65535};
    f.luminance.value = malloc(WIDTH * HEIGHT * sizeof *f.luminance.value);
    ck_assert_ptr_nonnull(f.luminance.value);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        double sky = SKY * (1 + 0.1 * (i % WIDTH) / WIDTH);
        f.luminance.value[i] = (float)(sky + NOISE * random_normal(&r));
    }
    for (int n = 0; n < STARS; n++) {
        double x = random_between(&r, 0, WIDTH), y = random_between(&r, 0, HEIGHT);
        double peak = 40 * pow(random_uniform(&r) + 1e-4, -0.8);
        for (int j = (int)fmax(y - 8, 0); j < fmin(y + 9, HEIGHT); j++) {
            for (int i = (int)fmax(x - 8, 0); i < fmin(x + trail + 9, WIDTH); i++) {
                double along = fmax(fmax(x - i, i - x - trail), 0);
                double square = along * along + (j - y) * (j - y);
                f.luminance.value[j * WIDTH + i] +=
                    (float)(peak * exp(-square / (2 * SIGMA * SIGMA)));
            }
        }
    }
    return f;
}

static void sky_free(struct frame *f)
{
    free(f->luminance.value);
}

/* Light of a line from one place to another, with this height in its middle and this width. */
static void add_line(struct frame *f, const struct streak *line, double peak, double sigma)
{
    double length = hypot(line->x1 - line->x0, line->y1 - line->y0);
    double c = (line->x1 - line->x0) / length, s = (line->y1 - line->y0) / length;
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        double x = i % WIDTH - line->x0, y = (double)(i / WIDTH) - line->y0;
        double along = x * c + y * s, across = y * c - x * s;
        if (along >= 0 && along <= length && fabs(across) < 6 * sigma) {
            f->luminance.value[i] += (float)(peak * exp(-across * across / (2 * sigma * sigma)));
        }
    }
}

static struct streak_list find(const struct frame *f)
{
    struct streak_list list;
    struct error err = {0};
    ck_assert_int_eq(streaks_find(&list, f, &err), 0);
    return list;
}

static void assert_streak(const struct streak *found, const struct streak *line, double tolerance)
{
    assert_near(found->x0, line->x0, tolerance, "px");
    assert_near(found->y0, line->y0, tolerance, "px");
    assert_near(found->x1, line->x1, tolerance, "px");
    assert_near(found->y1, line->y1, tolerance, "px");
}

/* Lines that rise little above the noise, in all directions, with their ends; a block is 4 px. */
START_TEST(test_lines)
{
    const struct streak line[] = {{100, 80, 800, 520},  {60, 500, 840, 440},  {300, 590, 380, 10},
                                  {450, 200, 640, 330}, {200, 300, 330, 220}, {700, 20, 760, 570}};
    for (size_t i = 0; i < sizeof line / sizeof line[0]; i++) {
        struct frame f = make_sky(10 + i, 0);
        add_line(&f, &line[i], 4 * NOISE, SIGMA);
        struct streak_list list = find(&f);
        ck_assert_msg(list.count == 1, "line %zu: %d found", i, list.count);
        assert_streak(&list.streak[0], &line[i], 14);
        sky_free(&f);
    }
}
END_TEST

/* The lamps of an aeroplane are one, with a satellite they are two. */
START_TEST(test_several)
{
    const struct streak left = {100, 80, 800, 520}, lamp = {100, 96, 800, 536};
    const struct streak other = {200, 560, 700, 40};
    struct frame f = make_sky(20, 0);
    add_line(&f, &left, 20 * NOISE, SIGMA);
    add_line(&f, &lamp, 20 * NOISE, SIGMA);
    ck_assert_int_eq(find(&f).count, 1);
    add_line(&f, &other, 4 * NOISE, SIGMA);
    struct streak_list list = find(&f);
    ck_assert_int_eq(list.count, 2);
    assert_streak(&list.streak[list.streak[0].x0 < 150 ? 1 : 0], &other, 14);
    sky_free(&f);
}
END_TEST

/* Of a plane with bins of three px, in a picture that they do not fill. */
START_TEST(test_binned)
{
    const struct streak line = {100, 80, 800, 520};
    const struct streak picture = {301, 241, 2401, 1561};
    struct frame f = make_sky(30, 0);
    add_line(&f, &line, 3 * NOISE, SIGMA);
    f.luminance.bin = 3;
    f.width = 3 * WIDTH + 2;
    struct streak_list list = find(&f);
    ck_assert_int_eq(list.count, 1);
    assert_streak(&list.streak[0], &picture, 42);
    sky_free(&f);
}
END_TEST

/* Skies of any kind of star have none. */
START_TEST(test_stars)
{
    for (int i = 0; i < 12; i++) {
        struct frame f = make_sky(40 + (uint64_t)i, 6.0 * i);
        ck_assert_msg(find(&f).count == 0, "stars trailed by %d px", 6 * i);
        sky_free(&f);
    }
}
END_TEST

/* A roof, a lit column of the sensor, a band of light and a bright star's spike are none. */
START_TEST(test_others)
{
    const struct streak column = {400, -1, 400, 601}, band = {0, 200, 899, 420};
    struct frame f = make_sky(60, 0);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        bool below = i / WIDTH > 450 + 0.2 * (i % WIDTH);
        f.luminance.value[i] *= below ? 0.2F : 1.0F;
    }
    ck_assert_int_eq(find(&f).count, 0);
    sky_free(&f);

    f = make_sky(61, 0);
    add_line(&f, &column, 5 * NOISE, 0.5);
    ck_assert_int_eq(find(&f).count, 0);
    sky_free(&f);

    f = make_sky(62, 0);
    add_line(&f, &band, 3 * NOISE, 14);
    ck_assert_int_eq(find(&f).count, 0);
    sky_free(&f);

    f = make_sky(63, 0);
    for (int step = 10; step < 200; step += 2) {
        const struct streak piece = {450 - 0.8 * step, 300 - 0.6 * step, 450 + 0.8 * step,
                                     300 + 0.6 * step};
        add_line(&f, &piece, 400.0 / step, SIGMA);
    }
    ck_assert_int_eq(find(&f).count, 0);
    sky_free(&f);
}
END_TEST

/* Pixels without data, planes without anything, and the smallest ones. */
START_TEST(test_odd_planes)
{
    const struct streak line = {100, 80, 800, 520};
    struct frame f = make_sky(70, 0);
    for (int i = 0; i < WIDTH * 150; i++) {
        f.luminance.value[i] = (float)NAN;
    }
    ck_assert_int_eq(find(&f).count, 0);
    add_line(&f, &line, 4 * NOISE, SIGMA);
    ck_assert_int_eq(find(&f).count, 1);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        f.luminance.value[i] = (float)NAN;
    }
    ck_assert_int_eq(find(&f).count, 0);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        f.luminance.value[i] = 0;
    }
    ck_assert_int_eq(find(&f).count, 0);
    for (int side = 1; side < 70; side += 4) {
        f.luminance.width = f.luminance.height = side;
        ck_assert_int_eq(find(&f).count, 0);
    }
    sky_free(&f);
}
END_TEST

Suite *streak_suite(void)
{
    Suite *suite = suite_create("streak");
    TCase *tests = tcase_create("streak");
    tcase_set_timeout(tests, 120);
    tcase_add_test(tests, test_lines);
    tcase_add_test(tests, test_several);
    tcase_add_test(tests, test_binned);
    tcase_add_test(tests, test_stars);
    tcase_add_test(tests, test_others);
    tcase_add_test(tests, test_odd_planes);
    suite_add_tcase(suite, tests);
    return suite;
}
