#include "stack/calibration.h"

#include "near.h"

#include <math.h>

Suite *calibration_suite(void);

enum { WIDTH = 40, HEIGHT = 30, PIXELS = WIDTH * HEIGHT };

static float value[PIXELS];
static const struct plane plane = {.width = WIDTH, .height = HEIGHT, .bin = 1, .value = value};

/* Darkness of 500, and a hot pixel in the first row. */
static float dark_at(int i)
{
    return i == 7 ? 2500 : 500;
}

/* Light of a lens that loses a third towards the right edge. */
static float light_at(int i)
{
    return 1 - 0.33F * (float)(i % WIDTH) / WIDTH;
}

static void fill(float light)
{
    for (int i = 0; i < PIXELS; i++) {
        value[i] = dark_at(i) + light * light_at(i);
    }
}

static bool add_dark(struct calibration *c, double exposure_s, double iso)
{
    bool used;
    fill(0);
    ck_assert_int_eq(calibration_add_dark(&used, c, &plane, exposure_s, iso, NULL), 0);
    return used;
}

/* A flat in which nothing is dark, as those of camera raw are. */
static bool add_flat(struct calibration *c, float light)
{
    bool used;
    for (int i = 0; i < PIXELS; i++) {
        value[i] = light * light_at(i);
    }
    ck_assert_int_eq(calibration_add_flat(&used, c, &plane, 0, NULL), 0);
    return used;
}

START_TEST(a_dark_takes_hot_pixels_off_and_a_flat_dark_corners)
{
    struct calibration c = {0};
    struct plane light = plane;
    bool dark, flat;
    ck_assert(add_dark(&c, 2, 800) && add_dark(&c, 2, 800));
    ck_assert(add_flat(&c, 9000) && add_flat(&c, 12000));
    ck_assert_int_eq(c.darks, 2);
    ck_assert_int_eq(c.flats, 2);
    assert_near(c.dark_level, 500, 1e-3, "values");
    fill(100);
    calibration_apply(&dark, &flat, &light, &c, 2, 800, false);
    ck_assert(dark && flat);
    for (int i = 1; i < PIXELS; i++) {
        assert_near((double)value[i] / (double)value[0], 1, 1e-4, "share");
    }
    calibration_free(&c);
}
END_TEST

START_TEST(darks_go_with_lights_like_them)
{
    struct calibration c = {0};
    struct plane light = plane;
    bool dark, flat;
    ck_assert(add_dark(&c, 2, 800));
    ck_assert(!add_dark(&c, 4, 800));
    ck_assert(!add_dark(&c, 2, 1600));
    ck_assert_int_eq(c.darks, 1);
    fill(100);
    calibration_apply(&dark, &flat, &light, &c, 8, 800, false);
    ck_assert(!dark && !flat);
    assert_near((double)value[0], 600, 0, "values");
    calibration_apply(&dark, &flat, &light, &c, 2, 3200, false);
    ck_assert(!dark);
    calibration_apply(&dark, &flat, &light, &c, 2, 0, false); /* an ISO that is not known */
    ck_assert(dark);
    assert_near((double)value[7], 100 * (double)light_at(7), 1e-3, "values");
    calibration_free(&c);
}
END_TEST

/* Values that do not count from black cannot be divided. */
START_TEST(a_flat_wants_to_know_black)
{
    struct calibration c = {0};
    struct plane light = plane;
    bool dark, flat;
    ck_assert(add_flat(&c, 9000));
    fill(100);
    calibration_apply(&dark, &flat, &light, &c, 2, 800, false);
    ck_assert(!flat);
    assert_near((double)value[0], 600, 0, "values");
    calibration_apply(&dark, &flat, &light, &c, 2, 800, true);
    ck_assert(flat);
    calibration_free(&c);
}
END_TEST

START_TEST(frames_of_another_size_are_left_alone)
{
    struct calibration c = {0};
    struct plane smaller = plane;
    bool dark, flat, used;
    ck_assert(add_dark(&c, 2, 800));
    smaller.height = HEIGHT / 2;
    fill(100);
    calibration_apply(&dark, &flat, &smaller, &c, 2, 800, false);
    ck_assert(!dark && !flat);
    assert_near((double)value[0], 600, 0, "values");
    ck_assert_int_eq(calibration_add_dark(&used, &c, &smaller, 2, 800, NULL), 0);
    ck_assert(!used);
    ck_assert_int_eq(calibration_add_flat(&used, &c, &smaller, 0, NULL), 0);
    ck_assert(!used);
    calibration_free(&c);
}
END_TEST

Suite *calibration_suite(void)
{
    Suite *suite = suite_create("calibration");
    TCase *tests = tcase_create("calibration");
    tcase_add_test(tests, a_dark_takes_hot_pixels_off_and_a_flat_dark_corners);
    tcase_add_test(tests, darks_go_with_lights_like_them);
    tcase_add_test(tests, a_flat_wants_to_know_black);
    tcase_add_test(tests, frames_of_another_size_are_left_alone);
    suite_add_tcase(suite, tests);
    return suite;
}
