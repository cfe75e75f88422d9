#include "base/units.h"
#include "demo/render.h"
#include "near.h"
#include "plan/signal.h"
#include "plan/signal_words.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *signal_suite(void);

enum { WIDTH = 300, HEIGHT = 200 };

static struct starfield field;

static void load(void)
{
    struct error err = {0};
    ck_assert_msg(!starfield_load(&field, "catalogs/stars.tsv", 1, &err), "%s", err.text);
}

static void unload(void)
{
    starfield_free(&field);
}

/* Skies and cameras of all kinds: noise of reading, of the sky, and of the object itself. */
static const struct scene {
    double exposure_s, f_number, read_noise, sky_mag, nebula_mag, wanted;
} scenes[] = {
    {2, 4, 5, 18.3, 9, 3}, {1, 4, 3, 21.5, 7, 5},     {8, 2.8, 5, 18, 9, 3},
    {30, 4, 2, 20, 8, 8},  {60, 2.8, 1.5, 21, 5, 40},
};

static struct render_options options_of(const struct scene *scene)
{
    struct render_options o = render_options_typical();
    o.lens.width = WIDTH;
    o.lens.height = HEIGHT;
    o.lens.distortion = 0;
    o.ra_deg = 200;
    o.dec_deg = 60;
    o.tracked = true;
    o.camera.exposure_s = scene->exposure_s;
    o.camera.f_number = scene->f_number;
    o.camera.read_noise_e = scene->read_noise;
    o.camera.sky_mag = scene->sky_mag;
    o.light = (struct render_light){0};
    o.sensor.pattern_e = 0;
    o.sensor.hot_share = 0;
    return o;
}

/* A round patch in the middle of the picture whose outline has a radius of 2.5 minutes of arc. */
static const double patch_arcmin = 5;

static float *stack(const struct render_options *o, double frames, uint64_t seed, double mag)
{
    struct render_options options = *o;
    struct rendering made = {0};
    struct error err = {0};
    struct nebula nebula = {
        .mag = mag, .major_deg = patch_arcmin / 60, .minor_deg = patch_arcmin / 60};
    struct nebulae nebulae = {&nebula, isnan(mag) ? 0 : 1};
    vector_from_radec(nebula.v, o->ra_deg, o->dec_deg);
    options.camera.stacked = (int)frames;
    options.seed = seed;
    ck_assert_msg(!render(&made, &field, &nebulae, &options, &err), "%s", err.text);
    float *adu = made.adu;
    made.adu = NULL;
    rendering_free(&made);
    return adu;
}

static bool in_outline(int i, double radius_px)
{
    return hypot(i % WIDTH - (WIDTH - 1) / 2.0, i / WIDTH - (HEIGHT - 1) / 2.0) < radius_px;
}

/* What the patch leaves, and the noise of a stack, in ADU; of the pixels within the outline that no
 * star brightens. */
struct measured {
    double light, noise;
};

static struct measured measure(const struct render_options *o, double frames, double mag,
                               double radius_px)
{
    float *with = stack(o, 1e6, 1, mag), *without = stack(o, 1e6, 1, NAN);
    float *one = stack(o, frames, 2, mag), *other = stack(o, frames, 3, mag);
    double light = 0, square = 0, sky_adu = camera_sky_e(&o->camera) / o->sensor.e_per_adu;
    int count = 0;
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        bool star = without[i] - o->sensor.black_adu > 1.03 * sky_adu;
        if (in_outline(i, radius_px) && !star) {
            light += with[i] - without[i];
            square += (one[i] - other[i]) * (one[i] - other[i]) / 2;
            count++;
        }
    }
    free(with);
    free(without);
    free(one);
    free(other);
    ck_assert_int_gt(count, 1000);
    return (struct measured){light / count, sqrt(square / count)};
}

/* Of the light of a rendered patch: half is in a core, half falls off as exp(-r) with the outline
 * at r = 3.2 (demo/nebulae.c), so a twelfth of it lies beyond. */
static double outline_mag(double mag)
{
    double beyond = 0.5 * (1 + 3.2) * exp(-3.2);
    return mag - 2.5 * log10(1 - beyond);
}

/* A stack of the advised number of frames has the signal to noise that was wanted: within 10 %, so
 * that the number is right within 20 %. */
START_TEST(rendered_stacks)
{
    const struct scene *scene = &scenes[_i];
    struct render_options o = options_of(scene);
    struct object object = {.type = OBJECT_GALAXY,
                            .magnitude = outline_mag(scene->nebula_mag),
                            .major_arcmin = patch_arcmin,
                            .minor_arcmin = patch_arcmin};
    struct signal_frame frame = {.zero_mag = signal_zero_mag(250, scene->f_number, 0.9 / 8.8),
                                 .scale_arcsec = camera_scale_arcsec(&o.camera),
                                 .exposure_s = scene->exposure_s,
                                 .sky_mag = scene->sky_mag,
                                 .read_noise = scene->read_noise};
    struct signal signal;
    double surface, sigma;
    ck_assert(signal_surface(&surface, &sigma, &object));
    signal_measure(&signal, &frame, surface);
    double frames = signal_frames(&signal, scene->wanted);
    double radius_px = patch_arcmin / 2 * 60 / frame.scale_arcsec;
    struct measured found = measure(&o, frames, scene->nebula_mag, radius_px);
    double got = found.light / found.noise;
    assert_near(got / signal_stack(&signal, frames), 1, 0.1, "of the signal to noise foretold");
}
END_TEST

START_TEST(numbers)
{
    struct signal_frame frame = {20, 2, 100, 20, 0};
    struct signal signal;
    signal_measure(&signal, &frame, 20);
    /* One electron a second from 20 mag; 4 square arcseconds, 100 s. */
    assert_near(signal.target_e, 400, 1e-9, "electrons");
    assert_near(signal.once, 400 / sqrt(800), 1e-9, "ratio");
    assert_near(signal.read_share, 0, 0, "share");
    assert_near(signal_frames(&signal, 100), 50, 0, "frames");
    assert_near(signal_stack(&signal, 50), 100, 1e-9, "ratio");
    assert_near(signal_frames(&signal, 1), 1, 0, "frames");
    frame.read_noise = sqrt(800);
    signal_measure(&signal, &frame, 20);
    assert_near(signal.read_share, 0.5, 1e-12, "share");
    assert_near(signal_frames(&signal, 100), 100, 0, "frames");
    /* A stop is a factor of two in light, 0.753 mag. */
    assert_near(signal_zero_mag(100, 2, 0.1) - signal_zero_mag(100, 2.8284271, 0.1), 0.7526, 1e-3,
                "mag");
}
END_TEST

/* A frame whose noise and sky are told in values of 0.2 electrons each, and read back. */
START_TEST(test_frame)
{
    const double gain = 0.2;
    struct signal_frame frame = {21, 3, 8, 19.5, 6}, back;
    struct signal signal;
    signal_measure(&signal, &frame, 40); /* nothing but sky */
    struct signal_test test = {.noise = signal.noise_e / gain,
                               .sky = signal.sky_e / gain,
                               .zero_mag = frame.zero_mag - 2.5 * log10(gain),
                               .scale_arcsec = frame.scale_arcsec,
                               .exposure_s = frame.exposure_s,
                               .read_noise = frame.read_noise};
    assert_near(signal_from_test(&back, &test), gain, 1e-6, "electrons");
    assert_near(back.zero_mag, frame.zero_mag, 1e-5, "mag");
    assert_near(back.sky_mag, frame.sky_mag, 1e-9, "mag/arcsec2");
    test.sky = 0; /* all of the noise is of reading */
    assert_near(signal_from_test(&back, &test), 6 / test.noise, 1e-12, "electrons");
    test.noise = 0;
    assert_near(signal_from_test(&back, &test), 0, 0, "electrons");
    test.noise = 1;
    test.zero_mag = NAN;
    assert_near(signal_from_test(&back, &test), 0, 0, "electrons");
}
END_TEST

/* With the sky's noise alone twice the light halves the frames, and so do 0.7526 mag; with read
 * noise alone twice the light quarters them, and a darker sky does nothing. */
START_TEST(alternatives)
{
    struct signal_outlook outlook = {
        .frame = {20, 2, 100, 18, 0}, .surface_mag = 26, .sigma_mag = 0.5, .wanted = 5};
    signal_foresee(&outlook);
    double frames = outlook.frames;
    ck_assert(frames > 1000);
    assert_near(signal_frames_if(&outlook, 0, 2, 1) / frames, 0.5, 1e-3, "of the frames");
    assert_near(signal_frames_if(&outlook, 0, 1, 2) / frames, 0.5, 1e-3, "of the frames");
    assert_near(signal_frames_if(&outlook, 0.7526, 1, 1) / frames, 0.5, 1e-3, "of the frames");
    assert_near(outlook.frames_high / frames, pow(10, 0.4), 2e-3, "of the frames");
    assert_near(outlook.frames_low / frames, pow(10, -0.4), 2e-3, "of the frames");
    outlook.frame.read_noise = 1e4;
    signal_foresee(&outlook);
    frames = outlook.frames;
    assert_near(signal_frames_if(&outlook, 0, 2, 1) / frames, 0.25, 1e-3, "of the frames");
    assert_near(signal_frames_if(&outlook, 3, 1, 1) / frames, 1, 1e-3, "of the frames");
}
END_TEST

START_TEST(sentences)
{
    char text[240];
    struct signal_outlook outlook = {
        .frame = {20, 2, 100, 18, 0}, .surface_mag = 24, .sigma_mag = 0.5, .wanted = 5};
    signal_foresee(&outlook);
    /* 10 electrons of it and 2524 of the sky: (5 * sqrt(2534) / 10)^2 frames. */
    signal_write_wanted(text, sizeof text, &outlook);
    ck_assert_str_eq(text, "S/N 5 takes 630 frames (250 to 1600: catalogued brightness is rough)");
    signal_write_noise(text, sizeof text, &outlook);
    ck_assert_str_eq(text, "the sky makes 100 % of the noise, read noise 0 %");
    signal_write_instead(text, sizeof text, &outlook);
    ck_assert_str_eq(text, "instead of 630 frames: 310 of twice the exposure, 310 with a lens one "
                           "stop faster, 250 under a sky 1 mag darker");
    outlook.frame.read_noise = 100;
    outlook.sigma_mag = 1;
    signal_foresee(&outlook);
    signal_write_noise(text, sizeof text, &outlook);
    ck_assert_str_eq(text, "read noise makes 80 % of the noise, the sky 20 %");
    signal_write_wanted(text, sizeof text, &outlook);
    ck_assert(strstr(text, "a typical one is assumed"));
}
END_TEST

START_TEST(surfaces)
{
    double mag, sigma;
    struct object object = {.type = OBJECT_GALAXY, .magnitude = 10, .major_arcmin = 10};
    object.minor_arcmin = 10;
    ck_assert(signal_surface(&mag, &sigma, &object));
    assert_near(mag, 10 + 2.5 * log10(PI * 300 * 300), 1e-9, "mag/arcsec2");
    object.magnitude = NAN;
    ck_assert(!signal_surface(&mag, &sigma, &object));
    object.type = OBJECT_EMISSION_NEBULA;
    ck_assert(signal_surface(&mag, &sigma, &object));
    ck_assert(sigma >= 1);
    object.major_arcmin = NAN;
    ck_assert(!signal_surface(&mag, &sigma, &object));
    object.major_arcmin = 10;
    object.type = OBJECT_DARK_NEBULA;
    ck_assert(!signal_surface(&mag, &sigma, &object));
    object.type = OBJECT_OPEN_CLUSTER;
    ck_assert(!signal_surface(&mag, &sigma, &object));
}
END_TEST

START_TEST(moonlight)
{
    /* Krisciunas & Schaefer 1991: a full Moon makes a dark zenith about 18 mag (from memory, a
     * magnitude either way), a quarter far less; below the horizon none. */
    double full = signal_moonlit_mag(21.6, 1, 45, 80, 60);
    double half = signal_moonlit_mag(21.6, 0.5, 45, 80, 60);
    assert_near(full, 18.2, 0.8, "mag/arcsec2");
    ck_assert(half > full + 1.5 && half < 21.2);
    assert_near(signal_moonlit_mag(21.6, 1, -1, 80, 60), 21.6, 0, "mag");
    assert_near(signal_moonlit_mag(21.6, 0, 50, 80, 60), 21.6, 0, "mag");
    ck_assert(signal_moonlit_mag(21.6, 1, 45, 80, 10) < full);
    ck_assert(signal_moonlit_mag(18, 1, 45, 80, 60) > 17);
    assert_near(signal_bortle_mag(1), 22, 0, "mag");
    assert_near(signal_bortle_mag(5.5), 19.6, 1e-9, "mag");
    assert_near(signal_bortle_mag(9), 17.7, 1e-9, "mag");
}
END_TEST

Suite *signal_suite(void)
{
    Suite *suite = suite_create("signal");
    TCase *stacks = tcase_create("stacks");
    tcase_add_unchecked_fixture(stacks, load, unload);
    tcase_set_timeout(stacks, 60);
    tcase_add_loop_test(stacks, rendered_stacks, 0, (int)(sizeof scenes / sizeof *scenes));
    suite_add_tcase(suite, stacks);
    TCase *model = tcase_create("model");
    tcase_add_test(model, numbers);
    tcase_add_test(model, test_frame);
    tcase_add_test(model, alternatives);
    tcase_add_test(model, sentences);
    tcase_add_test(model, surfaces);
    tcase_add_test(model, moonlight);
    suite_add_tcase(suite, model);
    return suite;
}
