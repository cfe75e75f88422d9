/* What is called a fault, and what is measured at all: just short of each limit and just beyond, in
 * the numbers of the manual. Fields of stars are made up, so that their truth is known. */
#include "health/health.h"
#include "health/health_parts.h"

#include "base/random.h"
#include "base/units.h"
#include "index_fixture.h"
#include "near.h"
#include "stars/shape.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *health_thresholds_suite(void);

/* A solved frame of which nothing is known but that its stars are 2 px wide. */
static struct frame_health sharp(void)
{
    struct frame_health health;
    health_read_json(&health, NULL);
    health.solved = health.linear = health.steady = true;
    health.look.kind = KIND_LIGHT;
    health.fwhm_px = 2;
    return health;
}

static bool has(const struct frame_health *health, enum health_fault fault)
{
    unsigned faults = health_find_faults(health);
    ck_assert_msg(faults == 0 || faults == 1U << fault, "faults %x", faults);
    return faults != 0;
}

#define FAULT_IF(member, value, fault)                                                             \
    (tried = sharp(), tried.member = (value), has(&tried, HEALTH_##fault))

START_TEST(limits_of_single_figures)
{
    struct frame_health tried;
    ck_assert(!FAULT_IF(double_px, 2.8, DOUBLE));
    ck_assert(FAULT_IF(double_px, 3.2, DOUBLE));
    ck_assert(!FAULT_IF(fwhm_px, 4.7, SOFT));
    ck_assert(FAULT_IF(fwhm_px, 5.3, SOFT));
    ck_assert(!FAULT_IF(hidden_share, 0.18, HIDDEN));
    ck_assert(FAULT_IF(hidden_share, 0.22, HIDDEN));
    ck_assert(!FAULT_IF(uneven_mag, 0.65, UNEVEN));
    ck_assert(FAULT_IF(uneven_mag, 0.75, UNEVEN));
    ck_assert(!FAULT_IF(sky_share, 0.57, BRIGHT_SKY));
    ck_assert(FAULT_IF(sky_share, 0.63, BRIGHT_SKY));
    ck_assert(!FAULT_IF(saturated_share, 0.18, SATURATED));
    ck_assert(FAULT_IF(saturated_share, 0.22, SATURATED));
}
END_TEST

static bool tilted(double narrow_px, double wide_px)
{
    struct frame_health health = sharp();
    health.fwhm_corner_px[0] = narrow_px;
    health.fwhm_corner_px[3] = wide_px;
    return has(&health, HEALTH_TILT);
}

START_TEST(a_tilt_is_a_ratio_of_1_7_and_a_pixel_and_a_half)
{
    ck_assert(!tilted(3, 3 * 1.64));
    ck_assert(tilted(3, 3 * 1.76));
    ck_assert(!tilted(1.8, 1.8 + 1.4));
    ck_assert(tilted(1.8, 1.8 + 1.6));
}
END_TEST

static bool trails(double trail_px, double drift_px, bool steady)
{
    struct frame_health health = sharp();
    health.trail_px = trail_px;
    health.drift_px = drift_px;
    health.steady = steady;
    return has(&health, HEALTH_TRAILS);
}

START_TEST(trails_are_longer_than_three_pixels)
{
    ck_assert(!trails(2.8, 2.8, true));
    ck_assert(trails(3.2, 3.2, true));
    /* Stars that do not agree are trails if they are as long as the drift, to a pixel. */
    ck_assert(trails(3.3, 2.4, false));
    ck_assert(!trails(3.5, 2.4, false));
}
END_TEST

/* Longer than wide by this, for stars 3.2 px wide: a line of L px adds L^2 / 12 to the variance. */
static bool trails_if_longer(double elongation)
{
    struct frame_health health = sharp();
    double variance = pow(3.2 / 2.3548, 2);
    health.fwhm_px = 3.2;
    health.trail_px = health.drift_px = sqrt((elongation * elongation - 1) * 12 * variance);
    ck_assert(health.trail_px > 3);
    return has(&health, HEALTH_TRAILS);
}

START_TEST(stars_less_than_1_25_times_as_long_as_wide_are_no_trails)
{
    ck_assert(!trails_if_longer(1.23));
    ck_assert(trails_if_longer(1.27));
}
END_TEST

static bool moved(double motion_px, double drift_px)
{
    struct frame_health health = sharp();
    health.motion_px = health.trail_px = motion_px;
    health.drift_px = drift_px;
    return health_find_faults(&health) & 1U << HEALTH_MOTION;
}

START_TEST(motion_is_three_pixels_and_0_35_of_the_drift)
{
    ck_assert(!moved(2.8, (double)NAN));
    ck_assert(moved(3.2, (double)NAN));
    ck_assert(!moved(0.97 * hypot(3, 0.35 * 20), 20));
    ck_assert(moved(1.03 * hypot(3, 0.35 * 20), 20));
}
END_TEST

static bool says(double off_deg, const char *words)
{
    char text[240];
    struct frame_health health = sharp();
    health.motion_px = 8;
    health.drift_px = 5;
    health.drift_angle_deg = 10;
    health.motion_angle_deg = 10 + off_deg;
    health_write_fault(text, sizeof text, &health, HEALTH_MOTION);
    return strstr(text, words) != NULL;
}

static bool tells_of_corners(double lost)
{
    char text[240];
    struct frame_health health = sharp();
    health.vignetting = lost;
    health_write_sky(text, sizeof text, &health);
    return strstr(text, "corners lose 3 %") != NULL;
}

START_TEST(words_for_directions_and_corners)
{
    ck_assert(says(23, "along the drift, which explains"));
    ck_assert(says(27, "at a slant to the drift"));
    ck_assert(says(62, "at a slant to the drift"));
    ck_assert(says(68, "across the drift"));
    ck_assert(!tells_of_corners(0.028));
    ck_assert(tells_of_corners(0.032));
}
END_TEST

/* A field of 1200 x 800 px, north up, at the equator. */
enum { WIDTH = 1200, HEIGHT = 800, MOST = 300 };

static struct field {
    struct frame frame;
    struct star_list list;
    struct solution solution;
    struct index index;
    struct star star[MOST];
    struct index_star known[MOST];
    struct match_pair pair[MOST];
    struct star_shape shape[SHAPES_MOST];
    int shapes;
    float value[WIDTH * HEIGHT];
} field;

static struct star crowd[1000];

static void make_field(double scale_arcsec)
{
    double scale = scale_arcsec / 3600;
    memset(&field, 0, sizeof field);
    field.frame = (struct frame){.width = WIDTH, .height = HEIGHT, .format = "FITS"};
    field.frame.luminance = (struct plane){WIDTH, HEIGHT, 1, field.value, 65535};
    field.list = (struct star_list){.star = field.star, .width = WIDTH, .height = HEIGHT};
    field.index.star = field.known;
    field.solution.solved = true;
    field.solution.pair = field.pair;
    field.solution.wcs = (struct wcs){.ra_deg = 83,
                                      .x = (WIDTH - 1) / 2.0,
                                      .y = (HEIGHT - 1) / 2.0,
                                      .cd = {{-scale, 0}, {0, -scale}},
                                      .width = WIDTH,
                                      .height = HEIGHT};
}

static void start(void)
{
    make_field(6);
}

static struct health_input input_of_field(void)
{
    return (struct health_input){&field.frame, &field.list, &field.solution, &field.index, true, 0};
}

/* A shape at so many halves of the diagonal from the middle, in a direction; trail: its second
 * moment along the picture. */
static void add_shape(double radius, double angle_deg, double variance, double trail)
{
    double r = radius * hypot(WIDTH, HEIGHT) / 2, angle = angle_deg * RAD_PER_DEG;
    struct star_shape *shape = &field.shape[field.shapes++];
    *shape = (struct star_shape){.x = WIDTH / 2.0 + r * cos(angle),
                                 .y = HEIGHT / 2.0 + r * sin(angle),
                                 .variance = variance,
                                 .q1 = trail,
                                 .star = field.list.count};
    field.star[field.list.count++].snr = 50;
}

static void add_shapes(int count, double radius, double variance, double trail)
{
    for (int i = 0; i < count; i++) {
        add_shape(radius, 30 + 0.1 * i, variance, trail);
    }
}

static struct frame_health shapes_measured(void)
{
    struct frame_health health = sharp();
    struct health_input input = input_of_field();
    health.fwhm_px = (double)NAN;
    health.solved = false;
    health_add_shape(&health, field.shape, field.shapes, &input);
    health_add_motion(&health, field.shape, field.shapes, &input);
    return health;
}

START_TEST(five_stars_make_a_width)
{
    add_shapes(4, 0.1, 1, 0);
    struct frame_health health = shapes_measured();
    ck_assert(isnan(health.fwhm_px) && isnan(health.trail_px) && isnan(health.fwhm_middle_px));
    add_shapes(1, 0.55, 1, 0); /* in no part: five in all, but four in the middle */
    health = shapes_measured();
    ck_assert(isfinite(health.fwhm_px) && isfinite(health.trail_px));
    ck_assert(isnan(health.fwhm_middle_px));
    start();
    add_shapes(5, 0.1, 1, 0);
    health = shapes_measured();
    assert_near(health.fwhm_middle_px, 2.3548, 1e-3, "px");
    for (int i = 0; i < 5; i++) {
        field.star[i].snr = 11.3; /* too faint for the width of a part */
    }
    ck_assert(isnan(shapes_measured().fwhm_middle_px));
    for (int i = 0; i < 5; i++) {
        field.star[i].snr = 12.7;
    }
    ck_assert(isfinite(shapes_measured().fwhm_middle_px));
}
END_TEST

START_TEST(the_middle_ends_at_0_4_and_corners_begin_at_0_7)
{
    add_shapes(5, 0.38, 1, 0);
    add_shapes(7, 0.42, 4, 0);
    assert_near(shapes_measured().fwhm_middle_px, 2.3548, 1e-3, "px");
    start();
    add_shapes(5, 0.73, 1, 0);
    add_shapes(7, 0.67, 4, 0);
    assert_near(shapes_measured().fwhm_corner_px[3], 2.3548, 1e-3, "px");
}
END_TEST

START_TEST(trails_are_measured_within_0_65)
{
    add_shapes(10, 0.63, 1, 1);
    add_shapes(14, 0.67, 1, 0);
    assert_near(shapes_measured().trail_px, sqrt(12), 1e-9, "px");
    start(); /* of fewer than ten within, all count */
    add_shapes(9, 0.63, 1, 1);
    add_shapes(14, 0.67, 1, 0);
    assert_near(shapes_measured().trail_px, 0, 1e-9, "px");
}
END_TEST

/* 17 stars whose moments along the picture are a pixel either way of a mean. The median has an
 * error of 1.2533 / 0.6745 / sqrt(17) px^2. */
static bool agree(double errors)
{
    double mean = errors * 1.2533 / 0.6745 / sqrt(17);
    start();
    add_shapes(8, 0.3, 1, mean - 1);
    add_shapes(1, 0.3, 1, mean);
    add_shapes(8, 0.3, 1, mean + 1);
    return shapes_measured().steady;
}

START_TEST(stars_agree_on_what_is_five_times_its_error)
{
    ck_assert(!agree(4.7));
    ck_assert(agree(5.3));
}
END_TEST

/* Under a sky that drifts by so many px during the exposure, with trails so long. */
static struct frame_health drifted(double drift_px, double trail_px)
{
    struct frame_health health = sharp();
    struct health_input input;
    start();
    add_shapes(17, 0.05, 1, trail_px * trail_px / 12);
    input = input_of_field();
    health.exposure_s = drift_px * 6 / 15.041;
    health_add_motion(&health, field.shape, field.shapes, &input);
    return health;
}

START_TEST(a_camera_follows_if_trails_are_half_of_two_pixels_of_drift)
{
    ck_assert(!drifted(1.9, 0).follows);
    ck_assert(drifted(2.1, 0).follows);
    ck_assert(drifted(10, 4.7).follows);
    ck_assert(!drifted(10, 5.3).follows);
    /* Longer than ten minutes no trail is a line. */
    assert_near(drifted(3000, 0).drift_px, 600 * 15.041 / 6, 20, "px");
}
END_TEST

/* Pairs of stars 100 px and more from all others; the fainter lies 20 px east or, if they turn, by
 * turns east and west. alone: so many other stars. */
static bool shows_twice(int pairs, double ratio, bool turn, int alone)
{
    struct frame_health health = sharp();
    struct health_input input;
    struct error err = {0};
    start();
    field.list.width = field.list.height = 1e6;
    field.solution.solved = false;
    for (int i = 0; i < pairs + alone; i++) {
        field.star[field.list.count++] =
            (struct star){.x = 200 * (i % 40) + 7 * i, .y = 200 * (i / 40) + 3 * i, .flux = 1000};
    }
    for (int i = 0; i < pairs; i++) {
        struct star *twin = &field.star[field.list.count++];
        *twin = field.star[i];
        twin->flux *= ratio;
        twin->x += turn && i % 2 ? -20 : 20;
    }
    input = input_of_field();
    ck_assert_int_eq(health_add_double(&health, field.shape, 0, &input, &err), 0);
    if (health.double_px > 0) {
        assert_near(health.double_px, 20, 1e-9, "px");
    }
    return health.double_px > 0;
}

START_TEST(eight_pairs_of_the_same_step_are_a_knock)
{
    ck_assert(!shows_twice(7, 0.5, false, 0));
    ck_assert(shows_twice(8, 0.5, false, 0));
    /* Of the stars, three tenths have a twin. */
    ck_assert(!shows_twice(17, 0.5, false, 60 - 2 * 17));
    ck_assert(shows_twice(19, 0.5, false, 60 - 2 * 19));
    ck_assert(!shows_twice(20, 0.115, false, 0));
    ck_assert(shows_twice(20, 0.125, false, 0));
    /* Images that are about equal change places, and the step backwards is the same step. */
    ck_assert(!shows_twice(14, 0.67, true, 0));
    ck_assert(shows_twice(14, 0.73, true, 0));
}
END_TEST

/* 900 stars at random, 120 of them bright, of which some have a twin 20 px east of them. */
static void add_crowd(int twins)
{
    struct random random = {7};
    start();
    field.list.star = crowd;
    field.list.width = field.list.height = 1e6;
    for (int i = 0; i < 900; i++) {
        double x = random_between(&random, 0, 700), y = random_between(&random, 0, 700);
        crowd[i < 120 ? i : i + twins] =
            (struct star){.x = x, .y = y, .flux = i < 120 ? 1000 : 300};
    }
    for (int i = 0; i < twins; i++) {
        crowd[120 + i] = crowd[i];
        crowd[120 + i].x += 20;
        crowd[120 + i].flux = 500;
    }
    field.list.count = 900 + twins;
}

/* How many times as many stars have another one there as do by chance: in 6 x 6 px of the circle of
 * 80 px that is searched. */
static double over_chance_of_crowd(void)
{
    int steps = 0, taken = 0;
    for (int i = 0; i < 120; i++) {
        bool takes = false;
        for (int k = i + 1; k < field.list.count; k++) {
            double dx = crowd[k].x - crowd[i].x, dy = crowd[k].y - crowd[i].y;
            steps += hypot(dx, dy) < 80;
            takes = takes || (dx >= 18 && dx < 24 && dy >= -2 && dy < 4);
        }
        taken += takes;
    }
    return taken / (steps * 36 / (PI * 80 * 80));
}

START_TEST(in_a_crowd_six_times_as_many_pairs_as_by_chance_are_a_knock)
{
    struct error err = {0};
    double before = 0, now = 0;
    for (int twins = 30; twins <= 70; twins++) {
        struct frame_health health = sharp();
        add_crowd(twins);
        struct health_input input = input_of_field();
        before = now;
        now = over_chance_of_crowd();
        ck_assert_int_eq(health_add_double(&health, field.shape, 0, &input, &err), 0);
        if (health.double_px > 0) {
            break;
        }
    }
    assert_near(before, 6, 0.5, "times chance");
    assert_near(now, 6, 0.5, "times chance");
}
END_TEST

/* Light along two round images so many px apart, 4 px in deviation. */
static double two_images(double x, double apart)
{
    double left = (x + apart / 2) / 4, right = (x - apart / 2) / 4;
    return exp(-left * left / 2) + exp(-right * right / 2);
}

/* How far apart they leave a dip of that share of their height. */
static double apart_for_dip(double dip)
{
    for (double apart = 8;; apart += 0.01) {
        double top = 0;
        for (double x = 0; x < apart; x += 0.01) {
            top = fmax(top, two_images(x, apart));
        }
        if (1 - two_images(0, apart) / top >= dip) {
            return apart;
        }
    }
}

/* Twelve stars of two images that touch. */
static bool shows_dip(double dip)
{
    struct frame_health health = sharp();
    struct health_input input;
    struct error err = {0};
    double apart = apart_for_dip(dip);
    start();
    for (int i = 0; i < 12; i++) {
        double x = 100 + 200 * (i % 6), y = 100 + 400 * (i / 6);
        field.shape[i] = (struct star_shape){.x = x, .y = y};
        for (int row = -40; row <= 40; row++) {
            for (int column = -60; column <= 60; column++) {
                field.value[(int)(y + row) * WIDTH + (int)(x + column)] =
                    (float)(1000 * exp(-row * row / 32.0) * two_images(column, apart));
            }
        }
    }
    health.fwhm_px = 4 * 2.3548;
    health.trail_px = apart;
    health.trail_angle_deg = 0;
    input = input_of_field();
    ck_assert_int_eq(health_add_double(&health, field.shape, 12, &input, &err), 0);
    return health.double_px > 0;
}

START_TEST(a_dip_of_12_percent_parts_two_images)
{
    ck_assert(!shows_dip(0.108));
    ck_assert(shows_dip(0.132));
}
END_TEST

static int by_value(const void *a, const void *b)
{
    double s = *(const double *)a, t = *(const double *)b;
    return s < t ? -1 : s > t;
}

/* How much a third of twelve stars are brighter, a third fainter, pixel by pixel in turn, so that a
 * dip of 30 % is so many errors deep: the error of a median is 1.2533 deviations over the root of
 * twelve, and the deviation that counts is that which three quarters of the profile stay below. */
static double unrest_for(double errors, double apart)
{
    double profile[41], top = 0;
    for (int k = 0; k < 41; k++) {
        profile[k] = two_images(k - 20, apart);
        top = fmax(top, profile[k]);
    }
    double depth = top - profile[20];
    qsort(profile, 41, sizeof *profile, by_value);
    return depth * sqrt(12) / (1.2533 * errors * profile[30]);
}

static bool shows_dip_of_errors(double errors)
{
    struct frame_health health = sharp();
    struct health_input input;
    struct error err = {0};
    double apart = apart_for_dip(0.3), unrest = unrest_for(errors, apart);
    start();
    for (int i = 0; i < 12; i++) {
        int x = 100 + 200 * (i % 6), y = 100 + 400 * (i / 6);
        field.shape[i] = (struct star_shape){.x = x, .y = y};
        for (int column = -60; column <= 60; column++) {
            double more = (i % 3 - 1) * (column % 2 == 0 ? unrest : -unrest);
            field.value[y * WIDTH + x + column] =
                (float)(1000 * (1 + more) * two_images(column, apart));
        }
    }
    health.fwhm_px = 4 * 2.3548;
    health.trail_px = 20.5 - 2 * health.fwhm_px; /* then the profile is looked at pixel by pixel */
    health.trail_angle_deg = 0;
    input = input_of_field();
    ck_assert_int_eq(health_add_double(&health, field.shape, 12, &input, &err), 0);
    return health.double_px > 0;
}

START_TEST(a_dip_is_six_errors_deep)
{
    ck_assert(!shows_dip_of_errors(6 * 0.94));
    ck_assert(shows_dip_of_errors(6 * 1.06));
}
END_TEST

/* A star 2.5 px wide, as bright as its magnitude says where V 15 gives one unit, and brighter by so
 * many magnitudes. */
static void add_star(double x, double y, double v_mag, double colour, double brighter_mag)
{
    const double sigma = 2.5 / 2.3548;
    double light = pow(10, 0.4 * (15 - v_mag + brighter_mag));
    int i = field.solution.matched++;
    for (int row = (int)y - 8; row <= (int)y + 8; row++) {
        for (int column = (int)x - 8; column <= (int)x + 8; column++) {
            double r2 = (column - x) * (column - x) + (row - y) * (row - y);
            field.value[row * WIDTH + column] +=
                (float)(light / (2 * PI * sigma * sigma) * exp(-r2 / (2 * sigma * sigma)));
        }
    }
    field.star[i] = (struct star){.x = x, .y = y, .flux = light, .snr = 50};
    field.known[i].mag = (int16_t)lround(1000 * v_mag);
    field.known[i].colour = (int16_t)lround(1000 * colour);
    field.pair[i] = (struct match_pair){.star = i, .catalogue = i};
    field.list.count = field.solution.matched;
}

/* On a circle whose squared radius is a share of the half diagonal's. */
static void add_circle(int count, double radius2, double colour, double brighter_mag)
{
    double r = sqrt(radius2) * hypot(WIDTH, HEIGHT) / 2;
    for (int i = 0; i < count; i++) {
        double angle = 2 * PI * i / count;
        add_star(WIDTH / 2.0 + r * cos(angle), HEIGHT / 2.0 + r * sin(angle), 8, colour,
                 brighter_mag);
    }
}

/* In a row of parts of the picture, from the left. */
static void add_parts(int parts, int each)
{
    for (int i = 0; i < parts * each; i++) {
        add_star(100 + 400 * (i % parts), 60 + 50 * (i / parts), 8, 0.6, 0);
    }
}

static struct frame_health light_measured(void)
{
    struct frame_health health = sharp();
    struct health_input input = input_of_field();
    struct error err = {0};
    health.fwhm_px = 2.5;
    ck_assert_int_eq(health_add_light(&health, &input, &err), 0);
    return health;
}

START_TEST(five_stars_make_a_zero_point)
{
    add_parts(1, 4);
    struct frame_health health = light_measured();
    ck_assert(isnan(health.zero_mag) && isnan(health.limit_mag));
    add_star(100, 260, 8, 0.6, 0);
    health = light_measured();
    ck_assert(isfinite(health.zero_mag) && isfinite(health.limit_mag));
    for (int i = 0; i < 5; i++) {
        field.star[i].snr = 11.3;
    }
    ck_assert(isnan(light_measured().zero_mag));
    for (int i = 0; i < 5; i++) {
        field.star[i].snr = 12.7;
    }
    ck_assert(isfinite(light_measured().zero_mag));
}
END_TEST

START_TEST(stars_near_the_end_of_the_scale_are_left_out)
{
    add_parts(1, 5);
    for (int i = 0; i < 5; i++) {
        field.star[i].peak = 0.83 * 65535;
    }
    ck_assert(isnan(light_measured().zero_mag));
    for (int i = 0; i < 5; i++) {
        field.star[i].peak = 0.77 * 65535;
    }
    ck_assert(isfinite(light_measured().zero_mag));
}
END_TEST

START_TEST(parts_are_compared_if_three_have_three_stars)
{
    add_parts(3, 2);
    ck_assert(isnan(light_measured().uneven_mag));
    start();
    add_parts(3, 3);
    ck_assert(isfinite(light_measured().uneven_mag));
    start();
    add_parts(2, 4);
    ck_assert(isnan(light_measured().uneven_mag));
}
END_TEST

/* 100 stars, and one that is brighter. Stars scatter by 0.05 mag at least: no camera sees in V. */
static int stars_used(double brighter_mag)
{
    start();
    add_circle(50, 0.1, 0.6, 0);
    add_circle(50, 0.2, 0.6, 0);
    add_star(600 + 279, 400, 8, 0.6, brighter_mag);
    return light_measured().zero_stars;
}

START_TEST(a_star_off_by_three_deviations_is_left_out)
{
    ck_assert_int_eq(stars_used(0.144), 101);
    ck_assert_int_eq(stars_used(0.156), 100);
}
END_TEST

/* 20 stars that scatter by 0.05 mag tell the loss in the corners with an error. */
static bool knows_corners(double error)
{
    double information = 1 / (error * error) - 1 / (0.3 * 0.3);
    double apart = 2 * sqrt(information * 0.05 * 0.05 / 20);
    start();
    add_circle(10, 0.1, 0.6, 0);
    add_circle(10, 0.1 + apart, 0.6, 0);
    return isfinite(light_measured().vignetting);
}

START_TEST(the_loss_in_the_corners_is_known_to_0_15)
{
    ck_assert(!knows_corners(0.158));
    ck_assert(knows_corners(0.142));
}
END_TEST

/* What is believed beforehand counts as much as stars that tell as much: half of each. */
START_TEST(stars_and_beliefs_are_weighed)
{
    double spread = 0.05 / 0.3;
    add_circle(10, 0.2, 0.6, 0); /* all of one kind, at one radius: 0.3 mag at the corner */
    assert_near(light_measured().zero_mag, 15 + 0.3 * 0.2, 0.005, "mag");
    start();
    add_circle(10, 0.2, 1.6, 0); /* red stars are 0.2 mag brighter than V says */
    assert_near(light_measured().zero_mag, 15 + 0.3 * 0.2 - 0.2, 0.01, "mag");

    start(); /* the colour term is 0.2 or 0.6: 0.4 */
    double off = spread / sqrt(20);
    for (int i = 0; i < 20; i++) {
        double redder = i % 2 ? off : -off, x = 110 + 25 * i;
        add_star(x, i < 10 ? x : 800 - x + 110, 8, 0.6 + redder, 0.6 * redder);
    }
    assert_near(light_measured().colour_term, 0.4, 0.02, "mag");

    start(); /* the loss is 0.3 mag or a gain of 0.3: none, and the mean counts */
    for (int i = 0; i < 20; i++) {
        double farther = i % 2 ? off : -off, angle = (3 * i - 28) * RAD_PER_DEG;
        double r = sqrt(0.5 + farther) * hypot(WIDTH, HEIGHT) / 2 * (i % 2 ? 1 : -1);
        add_star(600 + r * cos(angle), 400 + r * sin(angle), 8, 0.6, 0.3 * farther);
    }
    assert_near(light_measured().zero_mag, 15, 0.015, "mag");
}
END_TEST

/* 200 stars of V 6 to 10 whose light grows too slowly by so much a magnitude. The slope's own
 * error, twice, is borne: 0.02 where the residuals are the slope's alone. */
static bool straight(double slope)
{
    start();
    for (int i = 0; i < 200; i++) {
        double v_mag = 6 + 4 * (i * 79 % 200) / 200.0;
        add_star(30 + 60 * (i % 20), 40 + 80 * (i / 20), v_mag, 0.6, slope * (v_mag - 8));
    }
    return light_measured().linear;
}

START_TEST(a_picture_is_linear_to_0_12_a_magnitude)
{
    ck_assert(straight(0));
    assert_near(light_measured().zero_error, hypot(0.02, 0.007), 0.002, "mag");
    ck_assert(straight(0.13));
    ck_assert(!straight(0.155));
}
END_TEST

START_TEST(the_limit_is_five_times_the_noise)
{
    add_parts(1, 8);
    assert_near(light_measured().limit_mag, 8 + 2.5 * log10(50 / 5.0), 0.01, "mag");
    field.frame.luminance.full = 255; /* a curve: only faint stars are straight enough */
    for (int i = 0; i < 8; i++) {
        field.star[i].snr = 57;
    }
    ck_assert(isfinite(light_measured().limit_mag));
    for (int i = 0; i < 8; i++) {
        field.star[i].snr = 63;
    }
    ck_assert(isnan(light_measured().limit_mag));
}
END_TEST

/* Stars of the bundled catalogue in the field, brightest first, and the parts that they lie in. */
static struct sky {
    int count;
    struct {
        double x, y, mag;
    } star[20000];
} sky;

static int brighter_first(const void *a, const void *b)
{
    double one = ((const double *)a)[2], two = ((const double *)b)[2];
    return (one > two) - (one < two);
}

static void look_up_sky(void)
{
    const struct index *index = fixture_bundled();
    make_field(30);
    sky.count = 0;
    for (uint32_t i = 0; i < index->stars && sky.count < 20000; i++) {
        double v[3], x, y;
        index_star_vector(v, &index->star[i]);
        if (v[0] * cos(83 * RAD_PER_DEG) + v[1] * sin(83 * RAD_PER_DEG) > 0.9 &&
            wcs_pixel(&x, &y, &field.solution.wcs, v) && wcs_inside(&field.solution.wcs, x, y)) {
            sky.star[sky.count].x = x;
            sky.star[sky.count].y = y;
            sky.star[sky.count++].mag = index->star[i].mag / 1000.0;
        }
    }
    qsort(sky.star, (size_t)sky.count, sizeof *sky.star, brighter_first);
}

/* A picture that shows 5 times the noise to where so many of the sky's stars are 1.2 mag brighter.
 */
static struct frame_health hidden_measured(int expected, double fwhm_px)
{
    struct frame_health health = sharp();
    struct health_input input = input_of_field();
    struct error err = {0};
    input.index = fixture_bundled();
    health.fwhm_px = fwhm_px;
    ck_assert(sky.star[expected].mag - sky.star[expected - 1].mag > 0.0025);
    health.limit_mag = 1.2 + (sky.star[expected - 1].mag + sky.star[expected].mag) / 2;
    ck_assert_int_eq(health_add_hidden(&health, &input, &err), 0);
    ck_assert_int_eq(health.expected, expected);
    return health;
}

static int part_of(int star)
{
    return health_part(&field.list, sky.star[star].x, sky.star[star].y);
}

/* Nearest number of stars with a gap of magnitudes behind it. */
static int with_a_gap(int expected)
{
    while (sky.star[expected].mag - sky.star[expected - 1].mag <= 0.0025) {
        expected++;
    }
    return expected;
}

/* Detects the sky's stars but those for which skipped of so many in a part is left. */
static void detect(int stars, int skip, int in_part, double off_px)
{
    field.list.count = 0;
    for (int i = 0; i < stars && field.list.count < MOST; i++) {
        if (skip > 0 && part_of(i) == in_part) {
            skip--;
            continue;
        }
        field.star[field.list.count++] =
            (struct star){.x = sky.star[i].x + off_px, .y = sky.star[i].y, .flux = 1000 - i};
    }
}

START_TEST(twelve_stars_are_enough_to_miss_some)
{
    look_up_sky();
    detect(1, 0, 0, 0);
    ck_assert(isnan(hidden_measured(11, 2).missing_share));
    ck_assert(isfinite(hidden_measured(12, 2).missing_share));
}
END_TEST

START_TEST(three_stars_are_enough_to_miss_in_a_part)
{
    bool fewer = false, as_many = false;
    look_up_sky();
    detect(1, 0, 0, 1e6);
    for (int stars = 12; stars < 40; stars++) {
        int in_part[HEALTH_ROWS * HEALTH_COLUMNS] = {0}, expected = with_a_gap(stars);
        struct frame_health health = hidden_measured(expected, 2);
        for (int i = 0; i < expected; i++) {
            in_part[part_of(i)]++;
        }
        for (int i = 0; i < HEALTH_ROWS * HEALTH_COLUMNS; i++) {
            ck_assert_int_eq(health.hidden[i], in_part[i] >= 3);
            fewer = fewer || in_part[i] == 2;
            as_many = as_many || in_part[i] == 3;
        }
    }
    ck_assert(fewer && as_many);
}
END_TEST

START_TEST(a_part_is_hidden_without_six_tenths_of_its_stars)
{
    look_up_sky();
    int expected = with_a_gap(200), in_part = 0;
    for (int i = 0; i < expected; i++) {
        in_part += part_of(i) == 4;
    }
    ck_assert_int_ge(in_part, 10);
    detect(expected, (int)floor(0.59 * in_part), 4, 0);
    ck_assert(!hidden_measured(expected, 0.1).hidden[4]);
    detect(expected, (int)ceil(0.61 * in_part), 4, 0);
    ck_assert(hidden_measured(expected, 0.1).hidden[4]);
}
END_TEST

/* Stars 2 px wide and a fit to 1 px: within twice the one and three times the other, 7 px. */
START_TEST(a_star_is_found_within_its_width_and_the_fit)
{
    look_up_sky();
    field.solution.rms_px = 1;
    int expected = with_a_gap(40);
    detect(expected, 0, 0, 6.8);
    assert_near(hidden_measured(expected, 2).missing_share, 0, 0.01, "share");
    detect(expected, 0, 0, 7.2);
    ck_assert(hidden_measured(expected, 2).missing_share > 0.9);
}
END_TEST

Suite *health_thresholds_suite(void)
{
    Suite *suite = suite_create("health thresholds");
    TCase *faults = tcase_create("faults");
    tcase_add_test(faults, limits_of_single_figures);
    tcase_add_test(faults, a_tilt_is_a_ratio_of_1_7_and_a_pixel_and_a_half);
    tcase_add_test(faults, trails_are_longer_than_three_pixels);
    tcase_add_test(faults, stars_less_than_1_25_times_as_long_as_wide_are_no_trails);
    tcase_add_test(faults, motion_is_three_pixels_and_0_35_of_the_drift);
    tcase_add_test(faults, words_for_directions_and_corners);
    suite_add_tcase(suite, faults);
    TCase *shapes = tcase_create("shapes");
    tcase_add_checked_fixture(shapes, start, NULL);
    tcase_add_test(shapes, five_stars_make_a_width);
    tcase_add_test(shapes, the_middle_ends_at_0_4_and_corners_begin_at_0_7);
    tcase_add_test(shapes, trails_are_measured_within_0_65);
    tcase_add_test(shapes, stars_agree_on_what_is_five_times_its_error);
    tcase_add_test(shapes, a_camera_follows_if_trails_are_half_of_two_pixels_of_drift);
    tcase_add_test(shapes, eight_pairs_of_the_same_step_are_a_knock);
    tcase_add_test(shapes, in_a_crowd_six_times_as_many_pairs_as_by_chance_are_a_knock);
    tcase_add_test(shapes, a_dip_of_12_percent_parts_two_images);
    tcase_add_test(shapes, a_dip_is_six_errors_deep);
    suite_add_tcase(suite, shapes);
    TCase *light = tcase_create("light");
    tcase_add_checked_fixture(light, start, NULL);
    tcase_add_test(light, five_stars_make_a_zero_point);
    tcase_add_test(light, stars_near_the_end_of_the_scale_are_left_out);
    tcase_add_test(light, parts_are_compared_if_three_have_three_stars);
    tcase_add_test(light, a_star_off_by_three_deviations_is_left_out);
    tcase_add_test(light, the_loss_in_the_corners_is_known_to_0_15);
    tcase_add_test(light, stars_and_beliefs_are_weighed);
    tcase_add_test(light, a_picture_is_linear_to_0_12_a_magnitude);
    tcase_add_test(light, the_limit_is_five_times_the_noise);
    suite_add_tcase(suite, light);
    TCase *hidden = tcase_create("hidden");
    tcase_add_unchecked_fixture(hidden, fixture_open_bundled, fixture_close_bundled);
    tcase_add_test(hidden, twelve_stars_are_enough_to_miss_some);
    tcase_add_test(hidden, three_stars_are_enough_to_miss_in_a_part);
    tcase_add_test(hidden, a_part_is_hidden_without_six_tenths_of_its_stars);
    tcase_add_test(hidden, a_star_is_found_within_its_width_and_the_fit);
    suite_add_tcase(suite, hidden);
    return suite;
}
