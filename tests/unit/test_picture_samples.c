#include "draw/busy.h"
#include "image/picture_rows.h"
#include "image/picture_samples.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

Suite *picture_samples_suite(void);

/* Of no whole number of cells; 1403 is wide enough to be sampled. */
enum { WIDTH = 1403, HEIGHT = 161 };

/* Different everywhere, so that a pixel in the wrong place shows; the same for the rows of a cell.
 */
static float value_at(int x, int cell_row, int channel)
{
    unsigned mixed = (unsigned)((cell_row * WIDTH + x) * 3 + channel) * 2654435761U;
    return (float)(mixed >> 24);
}

/* Reads a made-up picture, whose rows come in cells, as the readers of files do. */
static void read_made_up(struct frame *frame, int orientation, int cell, bool samples)
{
    const struct frame_options how = {
        .want_picture = true, .want_samples = samples, .keep_levels = true};
    struct binner binner;
    struct picture_rows rows = {0};
    struct error err = {0};
    static float line[3][WIDTH];
    const float *const colour[3] = {line[0], line[1], line[2]};
    memset(frame, 0, sizeof *frame);
    ck_assert_int_eq(binner_start(&binner, frame, WIDTH, HEIGHT, orientation, 1, 8, &how, &err), 0);
    ck_assert_int_eq(picture_rows_start(&rows, &binner, &err), 0);
    picture_rows_settle(&rows, 255);
    for (int y = 0; y < HEIGHT; y += cell) {
        int times = HEIGHT - y < cell ? HEIGHT - y : cell;
        bool wanted = picture_rows_wants(&rows, times);
        for (int i = 0; i < 3 * WIDTH; i++) {
            line[i % 3][i / 3] = value_at(i / 3, y / cell, i % 3);
        }
        picture_rows_add(&rows, wanted ? colour : NULL, times);
    }
    picture_rows_free(&rows);
    binner_free(&binner);
}

/* Samples are the pixels that they stand for, however the picture is turned. */
START_TEST(samples_are_pixels)
{
    int orientation = _i % 8 + 1, cell = _i / 8 + 1;
    struct frame whole, few;
    read_made_up(&whole, orientation, cell, false);
    read_made_up(&few, orientation, cell, true);
    const struct picture *all = &whole.picture, *some = &few.picture;
    ck_assert(!all->sampled && some->sampled);
    ck_assert_int_eq(some->width, all->width);
    int columns = picture_kept_columns(some), rows = picture_kept_rows(some);
    double cell_px = picture_cell_px(all->width, all->height);
    ck_assert(columns <= 640 && rows <= 640 && columns * rows < WIDTH * HEIGHT / 4);
    for (int i = 0; i < columns * rows; i++) {
        int x = picture_sample_at(i % columns, all->width, cell_px);
        int y = picture_sample_at(i / columns, all->height, cell_px);
        ck_assert_mem_eq(some->rgb + 3 * i,
                         all->rgb + 3 * ((size_t)y * (size_t)all->width + (size_t)x), 3);
    }
    frame_free(&whole);
    frame_free(&few);
}
END_TEST

/* What names look for room by is the same. */
START_TEST(samples_are_as_busy)
{
    struct frame whole, few;
    struct busy_map all, some;
    struct error err = {0};
    read_made_up(&whole, 1, 2, false);
    read_made_up(&few, 1, 2, true);
    ck_assert_int_eq(busy_find(&all, &whole.picture, &err), 0);
    ck_assert_int_eq(busy_find(&some, &few.picture, &err), 0);
    ck_assert(all.columns == some.columns && all.rows == some.rows);
    ck_assert_mem_eq(all.sum, some.sum,
                     (size_t)(all.columns + 1) * (size_t)(all.rows + 1) * sizeof *all.sum);
    busy_free(&all);
    busy_free(&some);
    frame_free(&whole);
    frame_free(&few);
}
END_TEST

/* Small pictures stay whole. */
START_TEST(small_pictures_stay_whole)
{
    ck_assert(picture_worth_sampling(1280, 2));
    ck_assert(picture_worth_sampling(2, 1280));
    ck_assert(!picture_worth_sampling(1279, 1279));
}
END_TEST

Suite *picture_samples_suite(void)
{
    Suite *suite = suite_create("picture samples");
    TCase *all = tcase_create("samples");
    tcase_add_loop_test(all, samples_are_pixels, 0, 24);
    tcase_add_test(all, samples_are_as_busy);
    tcase_add_test(all, small_pictures_stay_whole);
    suite_add_tcase(suite, all);
    return suite;
}
