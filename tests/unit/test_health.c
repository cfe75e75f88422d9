/* Rendered frames, whose truth is known, through detection, solving and judging. */
#include "health/health.h"
#include "health/health_parts.h"

#include "base/units.h"
#include "demo/render.h"
#include "demo/render_brush.h"
#include "index_fixture.h"
#include "match/solve.h"
#include "near.h"
#include "stars/shape.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *health_suite(void);

static struct rendering rendering;
static struct frame frame;
static struct star_list list;
static struct solution solution;

static void free_all(void)
{
    rendering_free(&rendering);
    frame_free(&frame);
    star_list_free(&list);
    solution_free(&solution);
}

/* 3000 x 2000 px of Orion behind 150 mm, 7.6 degrees wide; half a second trails by 1.5 px. */
static struct render_options orion(void)
{
    struct render_options o = render_options_typical();
    o.camera.focal_mm = 150;
    o.camera.pixel_um = 3.7;
    o.camera.exposure_s = 0.5;
    o.camera.f_number = 2.8;
    o.lens.width = 3000;
    o.lens.height = 2000;
    o.ra_deg = 83.8;
    o.dec_deg = -2;
    o.up_angle_deg = 12;
    return o;
}

/* As a program writes it that takes off black and cannot keep what falls below; the value of black
 * is then 0. */
static void clip_at_black(double black)
{
    struct plane *plane = &frame.luminance;
    for (size_t i = 0; i < (size_t)plane->width * (size_t)plane->height; i++) {
        plane->value[i] = fmaxf(plane->value[i] - (float)black, 0);
    }
}

static void judge_file(struct frame_health *health, const struct render_options *options,
                       bool clipped)
{
    struct error err = {0};
    struct solve_times times;
    const struct solve_options nothing = {0};
    free_all();
    int code = render(&rendering, fixture_sky(), NULL, options, &err);
    code = code ? code : rendering_to_frame(&frame, &rendering, &err);
    if (!code && clipped) {
        clip_at_black(options->sensor.black_adu);
    }
    code = code ? code
                : solve_frame(&solution, &list, &times, &frame, fixture_bundled(), &nothing, &err);
    const struct health_input input = {.frame = &frame,
                                       .list = &list,
                                       .solution = &solution,
                                       .index = fixture_bundled(),
                                       .black_known = true,
                                       .black = clipped ? 0 : options->sensor.black_adu};
    code = code ? code : health_measure(health, &input, NULL, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

static void judge(struct frame_health *health, const struct render_options *options)
{
    judge_file(health, options, false);
}

START_TEST(measures_the_width_of_stars)
{
    static const double width[] = {2.2, 3, 4.5};
    struct frame_health health;
    struct render_options o = orion();
    o.camera.fwhm_px = width[_i];
    o.corner_blur = 0;
    judge(&health, &o);
    double truth = brush_drawn_fwhm(width[_i]);
    assert_near(health.fwhm_px, truth, 0.05 * truth, "px");
    assert_near(health.fwhm_arcsec, truth * wcs_scale_arcsec(&rendering.truth), 0.05 * 5.09 * truth,
                "arcsec");
}
END_TEST

START_TEST(measures_the_corners)
{
    struct frame_health health;
    struct render_options o = orion();
    o.corner_blur = 0.8;
    o.camera.exposure_s = 6;
    o.tracked = true;
    judge(&health, &o);
    /* Corner stars lie beyond 0.7 of half the diagonal, at 0.82 in the mean. */
    double corner = brush_drawn_fwhm(2.8 * (1 + 0.8 * 0.82 * 0.82)),
           middle = brush_drawn_fwhm(2.8 * 1.06);
    assert_near(health.fwhm_middle_px, middle, 0.05 * middle, "px");
    for (int i = 0; i < 4; i++) {
        assert_near(health.fwhm_corner_px[i], corner, 0.1 * corner, "px");
    }
}
END_TEST

START_TEST(compares_trails_with_the_drift)
{
    static const double exposure[] = {0.5, 1.5, 3, 8};
    struct frame_health health;
    struct render_options o = orion();
    char words[240], expected[40];
    o.camera.exposure_s = exposure[_i];
    judge(&health, &o);
    /* 15.041 arcsec a second times the cosine of the declination (handbook). */
    double drift =
        15.041 * exposure[_i] * cos(2 * RAD_PER_DEG) / wcs_scale_arcsec(&rendering.truth);
    assert_near(health.drift_px, drift, 0.01 * drift, "px");
    assert_near(health.trail_px, drift, 0.5, "px");
    assert_near(remainder(health.trail_angle_deg - health.drift_angle_deg, 180), 0,
                drift < 2 ? 15 : 5, "deg");
    double sigma = health.fwhm_px / 2.3548;
    double elongation = sqrt(1 + drift * drift / 12 / (sigma * sigma));
    assert_near(health.elongation, elongation, 0.05 * elongation, "ratio");
    health_write_verdict(words, sizeof words, &health);
    if (drift < 3) {
        ck_assert_msg(health.faults == 0, "%s", words);
        return;
    }
    ck_assert_int_eq(health.faults, 1 << HEALTH_TRAILS);
    snprintf(expected, sizeof expected, "trails %.1f px along the drift", health.trail_px);
    ck_assert_msg(strncmp(words, expected, strlen(expected)) == 0, "%s", words);
    assert_near(health.limit_exposure_s, exposure[_i] * 3 / drift, 0.02, "s");
}
END_TEST

START_TEST(knows_a_camera_that_follows_the_sky)
{
    struct frame_health health;
    struct render_options o = orion();
    char words[240];
    o.camera.exposure_s = 8;
    o.tracked = true;
    judge(&health, &o);
    ck_assert(health.follows);
    health_write_verdict(words, sizeof words, &health);
    ck_assert_str_eq(words, "good: round stars, the camera follows the sky");
}
END_TEST

/* Units of one exposed second: from the camera's throughput, in ADU. */
static double true_zero(const struct render_options *o)
{
    double electrons = camera_star_e(&o->camera, 0) / o->camera.exposure_s;
    return 2.5 * log10(electrons / o->sensor.e_per_adu);
}

START_TEST(measures_the_zero_point)
{
    struct frame_health health;
    struct render_options o = orion();
    o.camera.exposure_s = _i ? 4 : 0.5;
    o.camera.f_number = _i ? 4 : 2.8;
    judge(&health, &o);
    ck_assert(health.linear);
    ck_assert_int_ge(health.zero_stars, 24);
    assert_near(health.zero_mag, true_zero(&o), 2 * health.zero_error, "mag");
    ck_assert_double_lt(health.zero_error, 0.07);
    assert_near(health.colour_term, 0.3, 0.05, "mag a magnitude of B-V");
    assert_near(health.vignetting, 0.35, 0.1, "share of the light");
    /* The sky is 18.3 in the middle, brighter towards the Moon and as much darker away from it. */
    assert_near(health.sky_mag, 18.3, 0.1, "mag/arcsec^2");
    double trail = camera_trail_px(&o.camera, o.dec_deg);
    assert_near(health.limit_mag, camera_limit_mag(&o.camera, 5, trail), 0.3, "mag");
}
END_TEST

/* The renderer's sky is 18.3, whatever the lens does to the corners. */
START_TEST(vignetting_does_not_darken_the_sky)
{
    static const double lost[] = {0, 0.3, 0.6};
    struct frame_health health;
    struct render_options o = orion();
    o.light.vignetting = lost[_i];
    o.light.moon_glow = 0;
    o.camera.exposure_s = 1;
    judge(&health, &o);
    ck_assert(isfinite(health.sky_mag));
    assert_near(health.sky_mag, 18.3, 2 * hypot(health.zero_error, 0.02), "mag/arcsec^2");
}
END_TEST

/* A sky of some 10 electrons under a read noise of 5: black lies two deviations of a pixel's noise
 * below it or less, half of a deviation, or the sky is black itself. */
START_TEST(measures_no_light_that_is_clipped)
{
    static const double sky[] = {19.3, 21, 24};
    struct frame_health health;
    struct render_options o = orion();
    char words[200];
    o.camera.sky_mag = sky[_i];
    judge_file(&health, &o, true);
    ck_assert(health.solved && health.look.clipped && isnan(health.zero_mag) && isnan(health.sky_mag));
    health_write_depth(words, sizeof words, &health);
    ck_assert_msg(strstr(words, "no zero point: the picture is clipped at black"), "%s", words);
    judge(&health, &o);
    ck_assert(!health.look.clipped && isfinite(health.zero_mag));
}
END_TEST

START_TEST(sees_a_cloud_come)
{
    struct frame_health before, now;
    struct health_change change;
    struct render_options o = orion();
    o.camera.exposure_s = 1;
    judge(&before, &o);
    o.camera.throughput *= pow(10, -0.4 * 0.8);
    o.camera.fwhm_px *= 1.3;
    o.seed = 2;
    judge(&now, &o);
    health_compare(&change, &before, &now);
    double error = 2 * hypot(before.zero_error, now.zero_error);
    assert_near(change.dimming_mag, 0.8, error, "mag");
    assert_near(change.sky_ratio, pow(10, -0.4 * 0.8), 0.03, "ratio");
    assert_near(change.fwhm_ratio, 1.3, 0.05, "ratio");
    health_compare(&change, &now, &before);
    assert_near(change.dimming_mag, -0.8, error, "mag");
}
END_TEST

/* One thing that goes wrong, and how it is to be called. */
static void spoil(struct render_options *o, enum health_fault fault)
{
    switch (fault) {
    case HEALTH_DOUBLE:
        o->shake.knock_x = 12;
        o->shake.knock_y = -7;
        o->shake.knock_at = 0.7;
        break;
    case HEALTH_MOTION:
        o->shake.wind_px = 2;
        o->shake.wind_angle_deg = 100;
        break;
    case HEALTH_SOFT:
        o->shake.defocus_px = 8;
        break;
    case HEALTH_TILT:
        o->tilt_blur = 1.5;
        o->camera.exposure_s = 6;
        o->tracked = true;
        break;
    case HEALTH_HIDDEN:
        o->light.foreground = 0.6;
        break;
    case HEALTH_UNEVEN:
        o->light.cloud = 1;
        o->light.seed = 5;
        o->camera.exposure_s = 6;
        o->tracked = true;
        break;
    case HEALTH_BRIGHT_SKY:
        o->camera.sky_mag = 9.9;
        break;
    case HEALTH_SATURATED:
        o->sensor.e_per_adu = 0.013; /* at the highest ISO: 210 electrons fill a pixel */
        o->camera.exposure_s = 45;
        o->tracked = true;
        break;
    default:
        break;
    }
}

START_TEST(names_what_is_wrong)
{
    enum health_fault fault = (enum health_fault)_i;
    struct frame_health health;
    struct render_options o = orion();
    char words[240];
    spoil(&o, fault);
    judge(&health, &o);
    health_write_verdict(words, sizeof words, &health);
    bool spoiled = fault != HEALTH_FAULTS && fault != HEALTH_NOT_LIGHT && fault != HEALTH_TRAILS;
    ck_assert_msg(health.faults == (spoiled ? 1U << fault : 0), "%s: %s (%x)",
                  health_fault_key(fault), words, health.faults);
}
END_TEST

START_TEST(measures_a_knock)
{
    static const struct {
        double x, y, at;
    } knock[] = {{12, -7, 0.7}, {-9, 0, 0.5}, {3, 4, 0.5}, {0, 30, 0.25}};
    struct frame_health health;
    struct render_options o = orion();
    o.shake.knock_x = knock[_i].x;
    o.shake.knock_y = knock[_i].y;
    o.shake.knock_at = knock[_i].at;
    judge(&health, &o);
    /* Each image is the middle of its own part of the exposure, half of which lies between them. */
    double dx, dy;
    ck_assert(health_drift(&dx, &dy, &rendering.truth, 1500, 1000, o.camera.exposure_s / 2));
    dx += knock[_i].x;
    dy += knock[_i].y;
    double share = fmin(knock[_i].at, 1 - knock[_i].at) / fmax(knock[_i].at, 1 - knock[_i].at);
    ck_assert_int_eq(health.faults, 1 << HEALTH_DOUBLE);
    assert_near(health.double_px, hypot(dx, dy), 0.4, "px");
    assert_near(health.double_share, share, 0.15, "ratio");
    double angle = atan2(dy, dx) * DEG_PER_RAD;
    assert_near(remainder(health.double_angle_deg - angle, 180), 0, 3, "deg");
}
END_TEST

START_TEST(measures_the_wind)
{
    struct frame_health health;
    struct render_options o = orion();
    char words[240];
    judge(&health, &o);
    double drift_angle = health.drift_angle_deg;
    o.camera.exposure_s = _i ? 2 : 0.5;
    o.shake.wind_px = 2.5;
    o.shake.wind_angle_deg = drift_angle + 90;
    judge(&health, &o);
    health_write_verdict(words, sizeof words, &health);
    ck_assert_str_eq(words + 14, "across the drift: wind or a touched tripod");
    /* A swing of so many px rms has the second moment of a trail root 12 times as long. */
    assert_near(health.motion_px, sqrt(12) * 2.5, 0.6, "px");
    assert_near(remainder(health.motion_angle_deg - drift_angle - 90, 180), 0, 6, "deg");
}
END_TEST

START_TEST(names_a_flat_frame)
{
    struct frame_health health;
    struct render_options o = orion();
    char words[240];
    double wanted_e = (_i ? 0.7 : 0.2) * (SENSOR_WHITE - 512) * o.sensor.e_per_adu;
    o.camera.throughput *= 1e-6;
    o.camera.sky_mag += 2.5 * log10(camera_sky_e(&o.camera) / wanted_e);
    judge(&health, &o);
    health_write_verdict(words, sizeof words, &health);
    ck_assert_msg(strncmp(words, "a flat frame: no star, evenly lit to ", 37) == 0, "%s", words);
    ck_assert_str_eq(solution.why, words);
}
END_TEST

START_TEST(names_a_dark_frame)
{
    struct frame_health health;
    struct render_options o = orion();
    o.camera.throughput *= 1e-12;
    o.sensor.hot_share = 1e-4;
    o.camera.exposure_s = _i ? 30 : 1.0 / 4000;
    judge(&health, &o);
    ck_assert(!solution.solved);
    ck_assert_str_eq(solution.why,
                     _i ? "a dark frame or a lens cap: no star, level 512 of 16383, noise only"
                        : "a bias frame: no star, level 512 of 16383, noise only, exposed for an "
                          "instant");
    ck_assert_int_eq(health.faults, 1 << HEALTH_NOT_LIGHT);
    ck_assert_str_eq(frame_kind_key(health.look.kind), _i ? "dark" : "bias");
    ck_assert(isnan(health.fwhm_px));
}
END_TEST

START_TEST(says_that_there_are_no_stars)
{
    struct frame_health health;
    struct render_options o = orion();
    if (_i) {
        /* Warm in one place, so that it is not noise alone. */
        o.camera.throughput *= 1e-12;
        o.sensor.amp_glow_e = 3000;
    } else {
        o.camera.exposure_s = 5;
        o.camera.throughput *= 1e-6;
        o.camera.sky_mag -= 15;
    }
    judge(&health, &o);
    ck_assert(!solution.solved);
    ck_assert_str_eq(frame_kind_key(health.look.kind), "starless");
    ck_assert_msg(strncmp(solution.why, "no star stands out from the noise", 33) == 0, "%s",
                  solution.why);
    ck_assert_int_eq(health.faults, 1 << HEALTH_NOT_LIGHT);
}
END_TEST

START_TEST(puts_all_into_json)
{
    struct frame_health health;
    struct json json = {0};
    struct render_options o = orion();
    judge(&health, &o);
    schema_write(&json, NULL, &health_schema, &health);
    ck_assert(!json.failed);
    ck_assert_ptr_nonnull(strstr(json.text, "\"verdict\": \"good\""));
    ck_assert_ptr_nonnull(strstr(json.text, "\"faults\": []"));
    ck_assert_ptr_nonnull(strstr(json.text, "\"zero_mag\": 1"));
    json_free(&json);
}
END_TEST

START_TEST(calls_nothing_good_that_is_not_known)
{
    struct frame_health health;
    struct render_options o = orion();
    struct error err = {0};
    char words[240];
    judge(&health, &o);
    ck_assert_str_eq(health_verdict_key(&health), "good");
    ck_assert_double_gt(health.sky_share, 0);

    /* The same stars without an answer, in numbers that someone has shifted. */
    const struct health_input unsolved = {.frame = &frame, .list = &list};
    size_t pixels = (size_t)frame.luminance.width * (size_t)frame.luminance.height;
    for (size_t i = 0; i < pixels; i++) {
        frame.luminance.value[i] -= frame.luminance.full;
    }
    ck_assert_int_eq(health_measure(&health, &unsolved, NULL, &err), 0);
    ck_assert_int_eq(health.faults, 0);
    ck_assert_str_eq(health_verdict_key(&health), "unknown");
    health_write_verdict(words, sizeof words, &health);
    ck_assert_str_eq(words, "no fault found: round stars");
    ck_assert(isnan(health.sky_share));
    health_write_sky(words, sizeof words, &health);
    ck_assert_msg(strncmp(words, "level -", 7) == 0, "%s", words);
}
END_TEST

Suite *health_suite(void)
{
    Suite *suite = suite_create("health");
    TCase *tests = tcase_create("rendered");
    tcase_set_timeout(tests, 120);
    tcase_add_unchecked_fixture(tests, fixture_open_bundled, fixture_close_bundled);
    tcase_add_checked_fixture(tests, NULL, free_all);
    tcase_add_loop_test(tests, measures_the_width_of_stars, 0, 3);
    tcase_add_test(tests, measures_the_corners);
    tcase_add_loop_test(tests, compares_trails_with_the_drift, 0, 4);
    tcase_add_test(tests, knows_a_camera_that_follows_the_sky);
    tcase_add_loop_test(tests, measures_the_zero_point, 0, 2);
    tcase_add_loop_test(tests, vignetting_does_not_darken_the_sky, 0, 3);
    tcase_add_loop_test(tests, measures_no_light_that_is_clipped, 0, 3);
    tcase_add_test(tests, sees_a_cloud_come);
    tcase_add_loop_test(tests, names_what_is_wrong, 0, HEALTH_FAULTS + 1);
    tcase_add_loop_test(tests, measures_a_knock, 0, 4);
    tcase_add_loop_test(tests, measures_the_wind, 0, 2);
    tcase_add_loop_test(tests, names_a_flat_frame, 0, 2);
    tcase_add_loop_test(tests, names_a_dark_frame, 0, 2);
    tcase_add_loop_test(tests, says_that_there_are_no_stars, 0, 2);
    tcase_add_test(tests, puts_all_into_json);
    tcase_add_test(tests, calls_nothing_good_that_is_not_known);
    suite_add_tcase(suite, tests);
    return suite;
}
