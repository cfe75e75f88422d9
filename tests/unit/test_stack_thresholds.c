/* What the stack leaves out and what it measures by: just short of each limit and just beyond.
 * Sheets are filled by hand, so that what is expected follows from the numbers alone. */
#include "near.h"
#include "stack/calibration.h"
#include "stack/stack_parts.h"
#include "stack/starlet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *stack_thresholds_suite(void);

/* ---- darks and flats ---- */

enum { SIDE = 40 };

static float value[SIDE * SIDE];

static struct plane plane_of(float level)
{
    for (int i = 0; i < SIDE * SIDE; i++) {
        value[i] = level;
    }
    return (struct plane){.width = SIDE, .height = SIDE, .bin = 1, .value = value};
}

static bool goes_with_ten_seconds(double exposure_s)
{
    struct calibration c = {0};
    const struct plane plane = plane_of(100);
    bool used;
    ck_assert_int_eq(calibration_add_dark(&used, &c, &plane, 10, 800, NULL), 0);
    ck_assert(used);
    ck_assert_int_eq(calibration_add_dark(&used, &c, &plane, exposure_s, 800, NULL), 0);
    calibration_free(&c);
    return used;
}

START_TEST(darks_within_a_twentieth_of_the_exposure_fit)
{
    ck_assert(goes_with_ten_seconds(10.45) && goes_with_ten_seconds(9.55));
    ck_assert(!goes_with_ten_seconds(10.55) && !goes_with_ten_seconds(9.45));
}
END_TEST

START_TEST(a_flat_that_is_dark_divides_nothing)
{
    struct calibration c = {0};
    struct plane plane = plane_of(1000);
    bool used, dark, flat;
    value[5] = 56;
    value[6] = 44;
    ck_assert_int_eq(calibration_add_flat(&used, &c, &plane, 0, NULL), 0);
    ck_assert(used);
    plane = plane_of(1000);
    calibration_apply(&dark, &flat, &plane, &c, 2, 800, true);
    ck_assert(flat && !dark);
    assert_near((double)value[0], 1000, 0.01, "values");
    assert_near((double)value[5], 1000 / 0.056, 1, "values");
    ck_assert(isnan(value[6]));
    calibration_free(&c);
}
END_TEST

/* ---- the sky's surface ---- */

enum { NODES = 30 };

/* Whether a node that is so many times the usual scatter off counts: nodes are off by +1 and -1 in
 * turn, whose scatter is 1.4826. */
static bool counts_in_surface(double scatters)
{
    static float level[NODES * NODES];
    bool left_out[NODES * NODES] = {false};
    const struct background mesh = {
        .columns = NODES, .rows = NODES, .cell = 10, .level = level, .typical_level = 0};
    const int node = NODES * 12 + 17;
    struct sky_surface all, without;
    for (int i = 0; i < NODES * NODES; i++) {
        level[i] = (i / NODES + i) % 2 ? 1 : -1;
    }
    level[node] = (float)(scatters * 1.4826);
    left_out[node] = true;
    ck_assert_int_eq(sky_surface_fit(&all, &mesh, 300, 300, NULL, NULL), 0);
    ck_assert_int_eq(sky_surface_fit(&without, &mesh, 300, 300, left_out, NULL), 0);
    return fabs(sky_surface_level(&all, 175, 125) - sky_surface_level(&without, 175, 125)) > 1e-6;
}

START_TEST(halos_beyond_three_times_the_scatter_are_no_sky)
{
    ck_assert(counts_in_surface(2.75));
    ck_assert(!counts_in_surface(3.35));
}
END_TEST

/* ---- where the sheet lies ---- */

/* Width of the sheet for a round target of that radius in frames of 6000 x 4000. The usual sheet
 * is 1264 px high. */
static int sheet_for(double radius_px)
{
    const double step = 10.0 / 3600;
    const struct sky_ellipse target = {
        .ra_deg = 80, .dec_deg = 30, .major_deg = radius_px * step, .minor_deg = radius_px * step};
    const struct wcs wcs = {.ra_deg = 80,
                            .dec_deg = 30,
                            .x = 2999.5,
                            .y = 1999.5,
                            .cd = {{-step, 0}, {0, -step}},
                            .width = 6000,
                            .height = 4000};
    struct stack_place place;
    stack_place_for(&place, &target, &wcs, 1);
    return place.width;
}

/* 1.3 times its size must fit in: a radius of 486 px. */
START_TEST(a_target_has_room_around_it)
{
    ck_assert_int_eq(sheet_for(465), 1897);
    ck_assert_int_gt(sheet_for(510), 1897);
}
END_TEST

/* ---- pixels ---- */

/* Whether a value fits a pixel of that mean, of which a hundred values of noise 1 are known. */
static bool fits_pixel(float mean, float late)
{
    float kept[4] = {0}, fits = STACK_NOTHING;
    const struct stack_row row = {&kept[0], &kept[1], &kept[2], &kept[3]};
    for (int i = 0; i < 100; i++) {
        ck_assert(stack_row_take(&row, &mean, &fits, 1, 1, 1));
    }
    stack_row_take(&row, &late, &fits, 1, 1, 1);
    return fits == STACK_FITS;
}

START_TEST(four_times_the_noise_does_not_fit)
{
    ck_assert(fits_pixel(0, 3.7F) && fits_pixel(0, -3.7F));
    ck_assert(!fits_pixel(0, 4.3F) && !fits_pixel(0, -4.3F));
}
END_TEST

START_TEST(a_star_may_be_twice_as_bright)
{
    ck_assert(fits_pixel(100, 193));
    ck_assert(!fits_pixel(100, 207));
}
END_TEST

/* ---- the signal ---- */

static struct stack stack;

/* Numbers of -1, 0 and 1 in turn have a scatter of sqrt(2/3). */
static const double cell_step = 1.224744871391589;

/* A cell of which each half has that weight; number: how they differ, in units of the noise of a
 * pixel. */
static void set_cell(int i, double number, double weight)
{
    stack.cell[i] = (struct stack_cell){{number * weight * sqrt(2 / weight), 0}, {weight, weight}};
}

/* 10 arcsec a pixel, 400 x 320; all sky is 0 and of weight 1; 10 x 10 squares are target, 3 above.
 * Each cell's halves differ by so much that unit is the noise of a pixel. */
static void start(double unit)
{
    const struct stack_place place = {
        .target = {.ra_deg = 80, .dec_deg = 30, .major_deg = 0.1, .minor_deg = 0.1},
        .scale_arcsec = 10,
        .width = 400,
        .height = 320};
    ck_assert_int_eq(stack_start(&stack, &place, false, NULL), 0);
    stack.frames = 2;
    stack.sky_looks = 400 * 320;
    stack.pixel_arcsec = 10;
    stack.has_target_area = true;
    for (int i = 0; i < 400 * 320; i++) {
        stack.mean_weight[i] = 1;
    }
    for (int i = 0; i < stack.cell_columns * stack.cell_rows; i++) {
        set_cell(i, (i % 3 - 1) * cell_step * unit, STACK_CELL * STACK_CELL / 2);
    }
    memset(stack.region, REGION_AROUND, (size_t)stack.region_columns * (size_t)stack.region_rows);
}

static void fill_square(int i, int j, float mean, float weight)
{
    for (int y = 4 * j; y < 4 * j + 4; y++) {
        for (int x = 4 * i; x < 4 * i + 4; x++) {
            stack.mean[y * 400 + x] = mean;
            stack.mean_weight[y * 400 + x] = weight;
        }
    }
}

/* The first so many squares of the middle row are the target. */
static void mark_target(int squares, float mean)
{
    for (int i = 0; i < squares; i++) {
        stack.region[40 * stack.region_columns + 5 + i] = REGION_TARGET;
        fill_square(5 + i, 40, mean, 1);
    }
}

static struct stack_signal measure(void)
{
    struct stack_signal signal;
    stack_signal(&signal, &stack);
    stack_free(&stack);
    return signal;
}

START_TEST(cells_tell_the_noise)
{
    start(2);
    mark_target(60, 1);
    const struct stack_signal signal = measure();
    ck_assert(signal.known);
    assert_near(signal.noise, 2, 0.005, "values");
    assert_near(signal.level, 1, 1e-6, "values");
    assert_near(signal.once, 0.5, 0.002, "S/N");
}
END_TEST

/* The noise with every sixth cell at 3 or -3, not 0, of which each half has that weight. 38.4 are
 * three tenths of what the usual half has. */
static double noise_with_cells_of(double weight)
{
    start(1);
    mark_target(60, 3);
    for (int i = 1; i < stack.cell_columns * stack.cell_rows; i += 6) {
        set_cell(i, i / 6 % 2 ? 3 : -3, weight);
    }
    return measure().noise;
}

START_TEST(cells_that_few_frames_saw_tell_nothing)
{
    assert_near(noise_with_cells_of(35), sqrt(4 * 1.5 / 5), 0.01, "values");
    assert_near(noise_with_cells_of(41), sqrt((4 * 1.5 + 9) / 6), 0.01, "values");
}
END_TEST

/* One cell of 500 that is so many times the scatter off. */
static double noise_with_one_at(double scatters)
{
    start(1);
    mark_target(60, 3);
    set_cell(7, scatters * 1.4826 * cell_step, STACK_CELL * STACK_CELL / 2);
    return measure().noise;
}

START_TEST(cells_beyond_all_noise_tell_nothing)
{
    const double one = 3.7 * 1.4826 * cell_step;
    assert_near(noise_with_one_at(3.7), sqrt((499 + one * one) / 500), 0.004, "values");
    assert_near(noise_with_one_at(4.3), 1, 0.004, "values");
}
END_TEST

static bool is_known_by_cells(int cells)
{
    start(1);
    mark_target(60, 3);
    for (int i = cells; i < stack.cell_columns * stack.cell_rows; i++) {
        stack.cell[i] = (struct stack_cell){{0, 0}, {0, 0}};
    }
    return measure().known;
}

START_TEST(sixteen_cells_are_enough)
{
    ck_assert(is_known_by_cells(17));
    ck_assert(!is_known_by_cells(15));
}
END_TEST

static bool is_known_by_squares(int squares)
{
    start(1);
    mark_target(squares, 3);
    return measure().known;
}

START_TEST(eight_squares_are_enough)
{
    ck_assert(is_known_by_squares(9));
    ck_assert(!is_known_by_squares(7));
}
END_TEST

/* With so many of the 16 pixels of each square of the target. */
static bool is_known_by_pixels(int pixels)
{
    start(1);
    mark_target(60, 3);
    for (int i = 5; i < 65; i++) {
        for (int k = pixels; k < 16; k++) {
            stack.mean_weight[(160 + k / 4) * 400 + 4 * i + k % 4] = 0;
        }
    }
    return measure().known;
}

START_TEST(half_a_square_is_enough)
{
    ck_assert(is_known_by_pixels(9));
    ck_assert(!is_known_by_pixels(7));
}
END_TEST

/* The sky's mean with one square of a hundred so far off, where the others are off by +1 and -1;
 * noise is so large that nothing of that is a star. */
static double sky_with_some_at(double off)
{
    start(10);
    for (int j = 0; j < 80; j++) {
        for (int i = 0; i < 100; i++) {
            bool some = (100 * j + i) % 100 == 37;
            fill_square(i, j, some ? (float)off : (i + j) % 2 ? 1 : -1, 1);
        }
    }
    mark_target(60, 0);
    return -measure().level;
}

START_TEST(three_times_the_scatter_is_no_sky)
{
    assert_near(sky_with_some_at(2.8), 0.028, 0.004, "values");
    assert_near(sky_with_some_at(3.4), 0, 0.004, "values");
}
END_TEST

/* The sky's mean with one square of six that high: its noise is a quarter of a pixel's. */
static double sky_with_stars_of(double high)
{
    start(1);
    for (int j = 0; j < 80; j += 2) {
        for (int i = 0; i < 100; i += 3) {
            fill_square(i, j, (float)high, 1);
        }
    }
    mark_target(60, 0);
    return -measure().level;
}

START_TEST(two_and_a_half_times_a_squares_noise_is_a_star)
{
    assert_near(sky_with_stars_of(0.57), 0.57 / 6, 0.02, "values");
    assert_near(sky_with_stars_of(0.69), 0, 0.02, "values");
}
END_TEST

/* ---- the picture ---- */

/* Dots of one size, whose mean square is 1, and 9 in the middle: the noise of that size is 1.4826
 * by its median, so that of 9 there are 2 * 1.4826^2 to be taken off. */
START_TEST(details_lose_twice_their_noise)
{
    enum { SIZE = 96 };
    static float dots[SIZE * SIZE];
    for (int y = 0; y < SIZE; y++) {
        for (int x = 0; x < SIZE; x++) {
            float high = abs(x - 48) < 12 && abs(y - 48) < 12 ? 3 : 1;
            dots[y * SIZE + x] = (x + y) % 2 ? high : -high;
        }
    }
    ck_assert_int_eq(starlet_clean(dots, SIZE, SIZE, 1, NULL), 0);
    double left = 3 * (1 - 2 * 1.4826 * 1.4826 / 9);
    assert_near(fabs((double)dots[48 * SIZE + 48]), left, 0.01, "values");
    assert_near((double)dots[10 * SIZE + 10], 0, 1e-6, "values");
}
END_TEST

Suite *stack_thresholds_suite(void)
{
    Suite *s = suite_create("stack_thresholds");
    TCase *c = tcase_create("limits");
    tcase_add_test(c, darks_within_a_twentieth_of_the_exposure_fit);
    tcase_add_test(c, a_flat_that_is_dark_divides_nothing);
    tcase_add_test(c, halos_beyond_three_times_the_scatter_are_no_sky);
    tcase_add_test(c, a_target_has_room_around_it);
    tcase_add_test(c, four_times_the_noise_does_not_fit);
    tcase_add_test(c, a_star_may_be_twice_as_bright);
    tcase_add_test(c, cells_tell_the_noise);
    tcase_add_test(c, cells_that_few_frames_saw_tell_nothing);
    tcase_add_test(c, cells_beyond_all_noise_tell_nothing);
    tcase_add_test(c, sixteen_cells_are_enough);
    tcase_add_test(c, eight_squares_are_enough);
    tcase_add_test(c, half_a_square_is_enough);
    tcase_add_test(c, three_times_the_scatter_is_no_sky);
    tcase_add_test(c, two_and_a_half_times_a_squares_noise_is_a_star);
    tcase_add_test(c, details_lose_twice_their_noise);
    suite_add_tcase(s, c);
    return s;
}
