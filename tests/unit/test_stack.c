#include "stack/stack.h"

#include "base/random.h"
#include "near.h"
#include "objects/ellipse.h"
#include "stack/stack_parts.h"
#include "stack/stack_write.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *stack_suite(void);

enum { WIDTH = 720, HEIGHT = 480, STARS = 60 };

/* A rendered night: stars, and a nebula that is a hundredth of the sky's noise or so a pixel in one
 * frame, drifting over a sensor with hot pixels. The truth is known in closed form. */
struct night {
    struct sky_ellipse nebula;
    double star[STARS][3], star_flux[STARS];
    double glow;  /* of the nebula, evenly, in units of the noise */
    double blur;  /* rms width of stars, px */
    double noise; /* of a pixel */
    bool satellite;
    bool crossed;   /* it is known where that is */
    bool fixed;     /* something that stands still in the sky, as seen from the tripod */
    bool headlamps; /* of a car that passes: glare, and a ghost of it in the lens */
    int hot;        /* pixels */
    double dimming; /* share of the light that is left */
};

static float value[WIDTH * HEIGHT];

static struct wcs pointing(int frame)
{
    /* 20 arcsec a pixel; the camera drifts by 7.3 px a frame, turns a little, and bends. */
    double step = 20.0 / 3600, turn = 0.3 + 0.0005 * frame;
    struct wcs wcs = {
        .ra_deg = 80 + 0.02 * (frame % 20),
        .dec_deg = 30.0 - 0.015 * (frame % 20),
        .x = WIDTH / 2.0 + 11,
        .y = HEIGHT / 2.0 - 7,
        .cd = {{-step * cos(turn), -step * sin(turn)}, {step * sin(turn), -step * cos(turn)}},
        .order = 3,
        .width = WIDTH,
        .height = HEIGHT};
    wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = 3e-8;
    wcs.a[2][0] = 1e-5;
    return wcs;
}

static struct night usual_night(void)
{
    struct night night = {.nebula = {.ra_deg = 80.2,
                                     .dec_deg = 29.9,
                                     .major_deg = 0.62,
                                     .minor_deg = 0.42,
                                     .turn_deg = 40},
                          .glow = 0.05,
                          .blur = 1.2,
                          .noise = 20,
                          .dimming = 1};
    struct random random = {5};
    const struct wcs wcs = pointing(10);
    for (int i = 0; i < STARS; i++) {
        wcs_direction(night.star[i], &wcs, random_between(&random, 0, WIDTH),
                      random_between(&random, 0, HEIGHT));
        night.star_flux[i] = 3000 * pow(10, random_between(&random, 0, 1.5));
    }
    return night;
}

static void add_star(double x, double y, double flux, double blur)
{
    int reach = (int)ceil(5 * blur);
    for (int j = (int)y - reach; j <= (int)y + reach; j++) {
        for (int i = (int)x - reach; i <= (int)x + reach; i++) {
            if (i >= 0 && j >= 0 && i < WIDTH && j < HEIGHT) {
                double square = (i - x) * (i - x) + (j - y) * (j - y);
                value[j * WIDTH + i] +=
                    (float)(flux / (6.283185307 * blur * blur) * exp(-square / (2 * blur * blur)));
            }
        }
    }
}

/* Sky with a slope and dark corners, nebula, noise. */
static void add_sky(const struct night *night, const struct wcs *wcs, int frame)
{
    struct random random = {1000 + (uint64_t)frame};
    for (int j = 0; j < HEIGHT; j++) {
        for (int i = 0; i < WIDTH; i++) {
            double v[3], u = (i - WIDTH / 2.0) / WIDTH, w = (j - HEIGHT / 2.0) / WIDTH;
            double sky = 800 * (1 - 0.4 * (u * u + w * w)) + 50 * u;
            double glow = 0;
            if (night->glow != 0) {
                wcs_direction(v, wcs, i, j);
                glow = ellipse_contains(&night->nebula, v) ? night->glow * night->noise : 0;
            }
            value[j * WIDTH + i] +=
                (float)(sky + night->dimming * glow + night->noise * random_normal(&random));
        }
    }
}

static void add_headlamps(void)
{
    for (int j = 0; j < HEIGHT; j++) {
        for (int i = 0; i < WIDTH; i++) {
            double glare = hypot(i - 0.2 * WIDTH, j - 0.9 * HEIGHT) / 200;
            double ghost = hypot(i - 0.6 * WIDTH, j - 0.4 * HEIGHT);
            value[j * WIDTH + i] += (float)(900 * exp(-glare * glare / 2) + (ghost < 30 ? 300 : 0));
        }
    }
}

static void expose(const struct night *night, const struct wcs *wcs, int frame)
{
    struct random sensor = {77};
    memset(value, 0, sizeof value);
    for (int i = 0; i < STARS; i++) {
        double x, y;
        if (wcs_pixel(&x, &y, wcs, night->star[i]) && wcs_inside(wcs, x, y)) {
            add_star(x, y, night->dimming * night->star_flux[i], night->blur);
        }
    }
    add_sky(night, wcs, frame);
    for (int i = 0; i < night->hot; i++) {
        value[(int)(random_uniform(&sensor) * WIDTH * HEIGHT)] += 2000;
    }
    if (night->fixed) {
        add_star(0.45 * WIDTH, 0.55 * HEIGHT, 40000, night->blur);
    }
    if (night->headlamps) {
        add_headlamps();
    }
    for (int i = 0; night->satellite && i < WIDTH; i++) {
        for (int k = -1; k <= 1; k++) {
            value[(HEIGHT / 3 + i / 8 + k) * WIDTH + i] += 1500;
        }
        for (int k = -7; night->crossed && k <= 7; k++) { /* faint wings */
            value[(HEIGHT / 3 + i / 8 + k) * WIDTH + i] += (float)night->noise;
        }
    }
}

static enum stack_outcome add(struct stack *stack, const struct wcs *wcs, double light, int threads)
{
    const struct plane plane = {.width = WIDTH, .height = HEIGHT, .bin = 1, .value = value};
    const struct stack_frame frame = {
        .plane = &plane, .wcs = wcs, .light = light, .exposure_s = 2, .threads = threads};
    enum stack_outcome outcome;
    ck_assert_int_eq(stack_add(&outcome, stack, &frame, NULL), 0);
    return outcome;
}

/* The same where it is known what crosses it. */
static void add_crossed(struct stack *stack, const struct wcs *wcs)
{
    const struct plane plane = {.width = WIDTH, .height = HEIGHT, .bin = 1, .value = value};
    const struct streak_list list = {
        .streak = {{0, HEIGHT / 3.0, WIDTH - 1, HEIGHT / 3.0 + (WIDTH - 1) / 8.0}}, .count = 1};
    const struct stack_frame frame = {
        .plane = &plane, .wcs = wcs, .light = 1, .crossed = &list, .crossed_px = 9};
    enum stack_outcome outcome;
    ck_assert_int_eq(stack_add(&outcome, stack, &frame, NULL), 0);
    ck_assert_int_eq(outcome, STACK_ADDED);
}

static void start(struct stack *stack, const struct night *night)
{
    const struct wcs wcs = pointing(0);
    struct stack_place place;
    stack_place_for(&place, &night->nebula, &wcs, 1);
    ck_assert_int_eq(stack_start(stack, &place, wcs_mirrored(&wcs), NULL), 0);
}

static void stack_night(struct stack *stack, const struct night *night, int frames)
{
    start(stack, night);
    for (int i = 0; i < frames; i++) {
        const struct wcs wcs = pointing(i);
        expose(night, &wcs, i);
        ck_assert_int_eq(add(stack, &wcs, 1, 2), STACK_ADDED);
    }
}

/* Signal to noise of a mean of n frames grows with the square root of n (Poisson's photons). */
START_TEST(signal_grows_with_the_root_of_the_frames)
{
    struct night night = usual_night();
    struct stack stack = {0};
    struct stack_signal signal;
    start(&stack, &night);
    for (int i = 0; i < 64; i++) {
        const struct wcs wcs = pointing(i);
        expose(&night, &wcs, i);
        add(&stack, &wcs, 1, 2);
        if (i == 24 || i == 63) {
            double truth = night.glow * sqrt(i + 1);
            stack_signal(&signal, &stack);
            ck_assert(signal.known);
            assert_near(signal.once, truth, 0.1 * truth, "S/N");
            assert_near(signal.noise, night.noise / sqrt(i + 1), 0.03 * night.noise / sqrt(i + 1),
                        "values");
            assert_near(signal.level, night.glow * night.noise, 3 * signal.level_error, "values");
        }
    }
    stack_free(&stack);
}
END_TEST

/* Moments of a bright star on the sheet: place and rms width. */
static void measure_star(double *dx, double *dy, double *width, const struct stack *stack,
                         const double v[3])
{
    double x, y, sum = 0, sx = 0, sy = 0, sxx = 0;
    ck_assert(wcs_pixel(&x, &y, &stack->wcs, v));
    for (int j = (int)y - 6; j <= (int)y + 7; j++) {
        for (int i = (int)x - 6; i <= (int)x + 7; i++) {
            double value_here = (double)stack_value(stack, i, j);
            sum += value_here;
            sx += value_here * (i - x);
            sy += value_here * (j - y);
            sxx += value_here * ((i - x) * (i - x) + (j - y) * (j - y));
        }
    }
    *dx = sx / sum;
    *dy = sy / sum;
    *width = sqrt((sxx / sum - *dx * *dx - *dy * *dy) / 2);
}

START_TEST(stars_lie_where_they_are_and_stay_sharp)
{
    struct night night = usual_night();
    struct stack stack = {0};
    night.glow = 0;
    night.noise = 5;
    stack_night(&stack, &night, 20);
    int measured = 0;
    for (int i = 0; i < STARS; i++) {
        double x, y, dx, dy, width;
        ck_assert(wcs_pixel(&x, &y, &stack.wcs, night.star[i]));
        if (night.star_flux[i] < 20000 || x < 60 || y < 60 || x > stack.place.width - 60 ||
            y > stack.place.height - 60) {
            continue;
        }
        measure_star(&dx, &dy, &width, &stack, night.star[i]);
        assert_near(dy, 0, 0.1, "px");
        assert_near(width, night.blur, 0.1 * night.blur, "px");
        measured++;
    }
    ck_assert_int_ge(measured, 3);
    stack_free(&stack);
}
END_TEST

/* The largest value where no star is. */
static double brightest_sky(const struct stack *stack, const struct night *night)
{
    double most = 0;
    for (int y = 30; y < stack->place.height - 30; y++) {
        for (int x = 30; x < stack->place.width - 30; x++) {
            double v[3], nearest = 180, here = (double)stack_value(stack, x, y);
            if (!(here > most)) {
                continue;
            }
            wcs_direction(v, &stack->wcs, x, y);
            for (int i = 0; i < STARS; i++) {
                double dx, dy;
                wcs_pixel(&dx, &dy, &stack->wcs, night->star[i]);
                nearest = fmin(nearest, hypot(dx - x, dy - y));
            }
            most = nearest > 12 ? here : most;
        }
    }
    return most;
}

START_TEST(what_came_first_and_does_not_stay_is_left_out)
{
    struct night night = usual_night();
    struct stack stack = {0};
    start(&stack, &night);
    night.hot = 300;
    for (int i = 0; i < 12; i++) {
        const struct wcs wcs = pointing(i);
        night.satellite = i == 0 || i == 5;
        expose(&night, &wcs, i);
        add(&stack, &wcs, 1, 1);
    }
    /* 5 sigma of a mean of 11; the satellite was at 75 sigma of one frame, the hot pixels at 100.
     */
    ck_assert_double_lt(brightest_sky(&stack, &night), 6 * night.noise / sqrt(11));
    stack_free(&stack);
}
END_TEST

/* The signal is the true one, and the sky as even as noise leaves it. */
static void assert_clean(const struct stack *stack, const struct night *night, int frames)
{
    struct stack_signal signal;
    double truth = night->glow * sqrt(frames);
    stack_signal(&signal, stack);
    ck_assert(signal.known);
    assert_near(signal.once, truth, 0.1 * truth, "S/N");
    ck_assert_double_lt(brightest_sky(stack, night), 6 * night->noise / sqrt(frames));
}

/* Headlamps in three frames of 24: glare that a smooth sky takes off, and a ghost that does not
 * fit. */
START_TEST(lights_of_others_are_left_out)
{
    struct night night = usual_night();
    struct stack stack = {0};
    start(&stack, &night);
    for (int i = 0; i < 24; i++) {
        const struct wcs wcs = pointing(i);
        night.headlamps = i % 8 == 3;
        expose(&night, &wcs, i);
        add(&stack, &wcs, 1, 2);
    }
    assert_clean(&stack, &night, 21);
    stack_free(&stack);
}
END_TEST

/* A satellite over one place of the Earth stands still before a tripod, and walks over the stack.
 */
START_TEST(what_stands_still_in_all_frames_is_left_out)
{
    struct night night = usual_night();
    struct stack stack = {0};
    night.fixed = true;
    stack_night(&stack, &night, 24);
    assert_clean(&stack, &night, 24);
    stack_free(&stack);
}
END_TEST

/* A line at one place in all frames, whose wings fit the mean. */
START_TEST(lines_that_are_known_are_left_out_with_their_wings)
{
    struct night night = usual_night();
    struct stack stack = {0};
    night.satellite = night.crossed = true;
    start(&stack, &night);
    for (int i = 0; i < 24; i++) {
        const struct wcs wcs = pointing(i);
        expose(&night, &wcs, i);
        add_crossed(&stack, &wcs);
    }
    assert_clean(&stack, &night, 24);
    stack_free(&stack);
}
END_TEST

/* FITS standard 4.0: records of 2880 bytes; what is in it is held against astropy in
 * tests/outside/check_stack.py. */
START_TEST(is_written_as_picture_and_as_numbers)
{
    struct night night = usual_night();
    struct stack stack = {0};
    struct picture picture = {0};
    struct file_bytes png = {0}, fits = {0};
    const struct file_target to_png = {"stack.png", &png}, to_fits = {"stack.fits", &fits};
    const struct stack_look look = {.largest = 300, .red = true};
    stack_night(&stack, &night, 2);
    ck_assert_int_eq(stack_picture(&picture, &stack, &look, NULL), 0);
    ck_assert_int_le(picture.width, 300);
    for (size_t i = 0; i < (size_t)picture.width * (size_t)picture.height; i++) {
        ck_assert_int_eq(picture.rgb[3 * i + 1] + picture.rgb[3 * i + 2], 0);
    }
    ck_assert_int_eq(stack_write_png(&to_png, &stack, &(struct stack_look){0}, NULL), 0);
    ck_assert_int_eq(memcmp(png.bytes, "\x89PNG", 4), 0);
    ck_assert_int_eq(stack_write_fits(&to_fits, &stack, NULL), 0);
    ck_assert_uint_eq(fits.size % 2880, 0);
    free(picture.rgb);
    file_bytes_free(&png);
    file_bytes_free(&fits);
    stack_free(&stack);
}
END_TEST

START_TEST(threads_make_no_difference)
{
    struct night night = usual_night();
    struct stack one = {0}, three = {0};
    start(&one, &night);
    start(&three, &night);
    for (int i = 0; i < 3; i++) {
        const struct wcs wcs = pointing(7 * i);
        expose(&night, &wcs, i);
        add(&one, &wcs, 1, 1);
        add(&three, &wcs, 1, 3);
    }
    size_t bytes = (size_t)one.place.width * (size_t)one.place.height * sizeof *one.mean;
    ck_assert_int_eq(memcmp(one.mean, three.mean, bytes), 0);
    ck_assert_int_eq(memcmp(one.mean_weight, three.mean_weight, bytes), 0);
    ck_assert_int_eq(memcmp(one.other, three.other, bytes), 0);
    stack_free(&one);
    stack_free(&three);
}
END_TEST

Suite *stack_suite(void)
{
    Suite *suite = suite_create("stack");
    TCase *tests = tcase_create("stack");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, signal_grows_with_the_root_of_the_frames);
    tcase_add_test(tests, stars_lie_where_they_are_and_stay_sharp);
    tcase_add_test(tests, what_came_first_and_does_not_stay_is_left_out);
    tcase_add_test(tests, lights_of_others_are_left_out);
    tcase_add_test(tests, what_stands_still_in_all_frames_is_left_out);
    tcase_add_test(tests, lines_that_are_known_are_left_out_with_their_wings);
    tcase_add_test(tests, is_written_as_picture_and_as_numbers);
    tcase_add_test(tests, threads_make_no_difference);
    suite_add_tcase(suite, tests);
    return suite;
}
