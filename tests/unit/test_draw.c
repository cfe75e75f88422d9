/* Drawing on a picture: in the right place, on nothing else, and readable at any size. */
#include "base/random.h"
#include "draw/overlay.h"
#include "frames.h"
#include "image/frame.h"
#include "near.h"
#include "scratch.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

Suite *draw_suite(void);

/* A picture of one grey, or of noise. */
static struct picture make_picture(int width, int height, int grey, uint64_t seed)
{
    struct picture picture = {.width = width, .height = height};
    size_t bytes = (size_t)width * (size_t)height * 3;
    struct random random = {seed};
    picture.rgb = malloc(bytes);
    ck_assert_ptr_nonnull(picture.rgb);
    for (size_t i = 0; i < bytes; i++) {
        picture.rgb[i] = seed ? (unsigned char)random_bits(&random) : (unsigned char)grey;
    }
    return picture;
}

/* The canvas's pixel, 0xRRGGBB; it must lie in the picture. */
static unsigned pixel(const struct canvas *canvas, double x, double y)
{
    const unsigned char *data = cairo_image_surface_get_data(canvas->surface);
    int stride = cairo_image_surface_get_stride(canvas->surface);
    uint32_t value;
    memcpy(&value, data + lround(y) * stride + 4 * lround(x), 4);
    return value & 0xffffff;
}

static unsigned original(const struct picture *picture, int x, int y)
{
    const unsigned char *rgb = picture->rgb + 3 * ((size_t)y * (size_t)picture->width + (size_t)x);
    return (unsigned)rgb[0] << 16 | (unsigned)rgb[1] << 8 | rgb[2];
}

/* Share of the pixels that drawing has changed; box (may be NULL) bounds them. */
static double changed(const struct canvas *canvas, const struct picture *picture, int box[4])
{
    long count = 0;
    int bounds[4] = {picture->width, picture->height, -1, -1};
    for (int y = 0; y < picture->height; y++) {
        for (int x = 0; x < picture->width; x++) {
            if (pixel(canvas, x, y) != original(picture, x, y)) {
                count++;
                bounds[0] = x < bounds[0] ? x : bounds[0];
                bounds[1] = y < bounds[1] ? y : bounds[1];
                bounds[2] = x > bounds[2] ? x : bounds[2];
                bounds[3] = y > bounds[3] ? y : bounds[3];
            }
        }
    }
    if (box) {
        memcpy(box, bounds, sizeof bounds);
    }
    return (double)count / picture->width / picture->height;
}

static struct canvas open_canvas(const struct picture *picture)
{
    struct canvas canvas;
    struct error err = {0};
    ck_assert_msg(canvas_open(&canvas, picture, &err) == 0, "%s", err.text);
    return canvas;
}

static bool is_amber(unsigned rgb)
{
    int red = rgb >> 16 & 0xff, green = rgb >> 8 & 0xff, blue = rgb & 0xff;
    return red > 150 && red > green + 30 && green > blue + 30;
}

/* Two objects and a star around RA 10, Dec 0, as field_find would give them. */
static struct object things[4];
static struct objects sky;

static void make_sky(void)
{
    memset(things, 0, sizeof things);
    things[0] =
        (struct object){"M 1", "", "Anchor Nebula", OBJECT_EMISSION_NEBULA, 10.3, 0.2, 6, 60, 60};
    things[1] = (struct object){"M 2", "", "", OBJECT_GALAXY, 9, -0.6, 8, 2, 2};
    things[2] = (struct object){"Star", "", "", OBJECT_STAR, 11.5, -0.5, 2.5, NAN, NAN};
    sky = (struct objects){.object = things, .count = 3, .deep_sky = 2};
}

/* 5 x 3.33 degrees at any size. */
static struct wcs frame_of(const struct picture *picture)
{
    return frame_at(10, 0, 0, false, picture->width, picture->height, 5.0 * 3600 / picture->width);
}

static struct overlay_report draw(struct canvas *canvas, const struct wcs *wcs)
{
    struct field field;
    struct overlay_report report;
    ck_assert_int_eq(field_find(&field, wcs, &sky, NULL), 0);
    ck_assert_int_eq(overlay_draw(&report, canvas, wcs, &field, "In Cetus", NULL), 0);
    field_free(&field);
    return report;
}

START_TEST(outlines_lie_where_the_sky_puts_them)
{
    struct picture picture = make_picture(1200, 800, 0, 0);
    struct canvas canvas = open_canvas(&picture);
    struct wcs wcs = frame_of(&picture);
    frame_bend(&wcs, 0.05);
    struct overlay_report report = draw(&canvas, &wcs);
    ck_assert_int_eq(report.objects, 2);
    ck_assert_int_eq(report.stars, 1);
    int on_rim = 0;
    for (int i = 0; i < 36; i++) {
        double ra, dec, x, y;
        radec_offset(&ra, &dec, 10.3, 0.2, 10 * i, 0.5); /* 60' across */
        ck_assert(wcs_pixel_radec(&x, &y, &wcs, ra, dec));
        on_rim += is_amber(pixel(&canvas, x, y));
        radec_offset(&ra, &dec, 10.3, 0.2, 10 * i, 0.4);
        ck_assert(wcs_pixel_radec(&x, &y, &wcs, ra, dec));
        ck_assert_uint_eq(pixel(&canvas, x, y), 0);
    }
    ck_assert_int_ge(on_rim, 34); /* its name may touch it */
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

START_TEST(the_rest_of_the_picture_stays_as_it_is)
{
    struct picture picture = make_picture(900, 600, 0, 42);
    struct canvas canvas = open_canvas(&picture);
    struct wcs wcs = frame_of(&picture);
    ck_assert_double_eq(changed(&canvas, &picture, NULL), 0);
    draw(&canvas, &wcs);
    double share = changed(&canvas, &picture, NULL);
    ck_assert_msg(share > 0.01 && share < 0.12, "%.3f of the picture is changed", share);
    /* Clear of all that is drawn: the inside of the outline, the space between. */
    double x, y;
    ck_assert(wcs_pixel_radec(&x, &y, &wcs, 10.3, 0.2));
    int differ = 0;
    for (int dy = -60; dy <= 60; dy++) {
        for (int dx = -60; dx <= 60; dx++) {
            int column = (int)x + dx, row = (int)y + dy;
            differ += pixel(&canvas, column, row) != original(&picture, column, row);
        }
    }
    ck_assert_int_eq(differ, 0);
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

/* The same share of the picture is drawn on at any size. */
START_TEST(small_and_large_pictures_look_alike)
{
    static const int widths[] = {900, 1800, 6000};
    double share[3];
    for (int i = 0; i < 3; i++) {
        struct picture picture = make_picture(widths[i], widths[i] * 2 / 3, 40, 0);
        struct canvas canvas = open_canvas(&picture);
        struct wcs wcs = frame_of(&picture);
        draw(&canvas, &wcs);
        share[i] = changed(&canvas, &picture, NULL);
        canvas_free(&canvas);
        free(picture.rgb);
    }
    assert_near(share[1] / share[0], 1, 0.15, "ratio"); /* edges of lines are soft for a pixel */
    assert_near(share[2] / share[1], 1, 0.10, "ratio");
}
END_TEST

/* Dark on dark and light on light would fail: both grounds need a stroke that differs from them. */
START_TEST(lines_and_letters_show_on_black_and_on_white)
{
    static const int greys[] = {0, 128, 255};
    for (int i = 0; i < 3; i++) {
        struct picture picture = make_picture(900, 600, greys[i], 0);
        struct canvas canvas = open_canvas(&picture);
        struct wcs wcs = frame_of(&picture);
        draw(&canvas, &wcs);
        long strong = 0;
        for (int y = 0; y < 600; y++) {
            for (int x = 0; x < 900; x++) {
                int green = pixel(&canvas, x, y) >> 8 & 0xff;
                strong += abs(green - greys[i]) > 60;
            }
        }
        ck_assert_msg(strong > 900 * 600 / 250, "only %ld px stand out of %d", strong, greys[i]);
        canvas_free(&canvas);
        free(picture.rgb);
    }
}
END_TEST

START_TEST(what_is_drawn_is_always_the_same)
{
    struct picture picture = make_picture(900, 600, 0, 42);
    struct canvas one = open_canvas(&picture), two = open_canvas(&picture);
    struct wcs wcs = frame_of(&picture);
    draw(&one, &wcs);
    draw(&two, &wcs);
    ck_assert_int_eq(memcmp(cairo_image_surface_get_data(one.surface),
                            cairo_image_surface_get_data(two.surface), 900 * 600 * 4),
                     0);
    canvas_free(&one);
    canvas_free(&two);
    free(picture.rgb);
}
END_TEST

/* A mark of few pixels in the middle of an odd and an even picture. */
START_TEST(pixel_centres_are_whole_numbers)
{
    struct picture picture = make_picture(301, 201, 0, 0);
    struct canvas canvas = open_canvas(&picture);
    int box[4];
    cairo_new_path(canvas.cairo);
    cairo_move_to(canvas.cairo, 100, 50);
    cairo_line_to(canvas.cairo, 200, 50);
    canvas_stroke(&canvas, &style_object, STYLE_LINE);
    changed(&canvas, &picture, box);
    assert_near((box[0] + box[2]) / 2.0, 150, 0.01, "px");
    assert_near((box[1] + box[3]) / 2.0, 50, 0.01, "px");
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

/* Any shape of picture, with the marks anywhere: nothing crashes, names stay inside. */
START_TEST(odd_pictures_are_no_trouble)
{
    static const int sizes[][2] = {{1, 1}, {1, 500}, {500, 1}, {40, 30}, {300, 2000}, {2000, 150}};
    for (int i = 0; i < 6; i++) {
        struct picture picture = make_picture(sizes[i][0], sizes[i][1], 0, 0);
        struct canvas canvas = open_canvas(&picture);
        struct wcs wcs =
            frame_at(10, 0, 30 * i, i % 2, sizes[i][0], sizes[i][1],
                     5.0 * 3600 / (sizes[i][0] > sizes[i][1] ? sizes[i][0] : sizes[i][1]));
        draw(&canvas, &wcs);
        ck_assert_int_eq(cairo_status(canvas.cairo), CAIRO_STATUS_SUCCESS);
        canvas_free(&canvas);
        free(picture.rgb);
    }
}
END_TEST

START_TEST(a_field_at_the_pole_is_drawn)
{
    things[0].ra_deg = 123;
    things[0].dec_deg = 90;
    things[1].dec_deg = 89.2;
    things[2].dec_deg = 89.5;
    struct picture picture = make_picture(900, 600, 0, 0);
    struct canvas canvas = open_canvas(&picture);
    struct wcs wcs = frame_at(0, 90, 0, false, 900, 600, 20);
    struct overlay_report report = draw(&canvas, &wcs);
    ck_assert_int_eq(report.objects, 2);
    ck_assert_int_eq(report.stars, 1);
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

/* As on a machine where no font is installed. A process of its own, since fonts are looked for
 * once; so it only tests something if this one has not drawn yet. */
START_TEST(without_fonts_nothing_crashes)
{
    static const char none[] = "<fontconfig><dir>/no/fonts/here</dir></fontconfig>";
    const char *config = scratch_write("fonts.conf", none, sizeof none - 1);
    pid_t child = fork();
    ck_assert(child >= 0);
    if (child == 0) {
        setenv("FONTCONFIG_FILE", config, 1);
        struct picture picture = make_picture(900, 600, 0, 0);
        struct canvas canvas;
        struct wcs wcs = frame_of(&picture);
        struct field field;
        struct overlay_report report;
        bool good = canvas_open(&canvas, &picture, NULL) == 0 &&
                    field_find(&field, &wcs, &sky, NULL) == 0 &&
                    overlay_draw(&report, &canvas, &wcs, &field, "In Cetus", NULL) == 0 &&
                    cairo_status(canvas.cairo) == CAIRO_STATUS_SUCCESS && report.objects == 2;
        _exit(good ? 0 : 1);
    }
    int status = 0;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert(WIFEXITED(status));
    ck_assert_int_eq(WEXITSTATUS(status), 0);
}
END_TEST

START_TEST(a_png_reads_back_as_it_was_drawn)
{
    struct picture picture = make_picture(333, 222, 0, 9);
    struct canvas canvas = open_canvas(&picture);
    struct wcs wcs = frame_of(&picture);
    struct error err = {0};
    struct frame frame;
    const struct frame_options how = {.want_picture = true};
    draw(&canvas, &wcs);
    const char *path = scratch_path("drawn.png");
    ck_assert_msg(canvas_save_png(&canvas, path, &err) == 0, "%s", err.text);
    ck_assert_int_eq(scratch_count(), 1);
    ck_assert_msg(frame_read(&frame, path, &how, &err) == 0, "%s", err.text);
    ck_assert_int_eq(frame.width, 333);
    ck_assert_int_eq(frame.height, 222);
    ck_assert_double_eq(changed(&canvas, &frame.picture, NULL), 0);
    frame_free(&frame);
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

START_TEST(what_cannot_be_written_is_refused_and_leaves_nothing)
{
    struct picture picture = make_picture(60, 40, 0, 9);
    struct canvas canvas = open_canvas(&picture);
    struct error err = {0};
    ck_assert_int_eq(canvas_save_png(&canvas, scratch_path("none/drawn.png"), &err), ERROR_OUTPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "none/drawn.png"));
    /* A name that is not UTF-8 stops the drawing; then nothing is written. */
    struct canvas_text text = {"\xff\xfe", STYLE_TEXT, false};
    double width, height;
    canvas_measure(&canvas, &text, &width, &height);
    canvas_write(&canvas, &text, 5, 5, &style_plain);
    memset(&err, 0, sizeof err);
    ck_assert_int_eq(canvas_save_png(&canvas, scratch_path("drawn.png"), &err), ERROR_INPUT);
    ck_assert_int_eq(scratch_count(), 0);
    canvas_free(&canvas);
    free(picture.rgb);
}
END_TEST

START_TEST(a_picture_that_is_too_large_is_refused)
{
    struct picture picture = {.width = CANVAS_LARGEST_SIDE + 1, .height = 2};
    struct canvas canvas;
    struct error err = {0};
    ck_assert_int_eq(canvas_open(&canvas, &picture, &err), ERROR_INPUT);
    ck_assert_str_eq(err.text,
                     "a picture of 32768 x 2 px is too large to draw on: at most 32767 px a side");
    canvas_free(&canvas);
}
END_TEST

Suite *draw_suite(void)
{
    Suite *suite = suite_create("draw");
    TCase *overlay = tcase_create("overlay");
    tcase_add_checked_fixture(overlay, make_sky, NULL);
    tcase_set_timeout(overlay, 60);
    tcase_add_test(overlay, outlines_lie_where_the_sky_puts_them);
    tcase_add_test(overlay, the_rest_of_the_picture_stays_as_it_is);
    tcase_add_test(overlay, small_and_large_pictures_look_alike);
    tcase_add_test(overlay, lines_and_letters_show_on_black_and_on_white);
    tcase_add_test(overlay, what_is_drawn_is_always_the_same);
    tcase_add_test(overlay, pixel_centres_are_whole_numbers);
    tcase_add_test(overlay, odd_pictures_are_no_trouble);
    tcase_add_test(overlay, a_field_at_the_pole_is_drawn);
    suite_add_tcase(suite, overlay);
    TCase *files = tcase_create("files");
    tcase_add_checked_fixture(files, make_sky, NULL);
    tcase_add_checked_fixture(files, scratch_make, scratch_remove);
    tcase_add_test(files, without_fonts_nothing_crashes);
    tcase_add_test(files, a_png_reads_back_as_it_was_drawn);
    tcase_add_test(files, what_cannot_be_written_is_refused_and_leaves_nothing);
    tcase_add_test(files, a_picture_that_is_too_large_is_refused);
    suite_add_tcase(suite, files);
    return suite;
}
