/* Drawing on a picture: in the right place, on nothing else, and readable at any size. */
#include "base/random.h"
#include "draw/blend.h"
#include "draw/drawing.h"
#include "draw/overlay.h"
#include "draw/pen.h"
#include "frames.h"
#include "image/colour_profile.h"
#include "image/frame.h"
#include "near.h"
#include "scratch.h"
#include "sky/sun_moon.h"
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

/* A drawing and the picture that it lies on. */
struct sheet {
    struct canvas canvas;
    const struct picture *picture;
    unsigned char *flat; /* both together, once a pixel has been asked for */
};

/* One row as it would be written to a file; it must lie in the picture. */
static const unsigned char *row_of(struct sheet *sheet, int y)
{
    static unsigned char row[3 * 6000];
    const struct blend blend = {sheet->picture->width, sheet->picture->height, &sheet->canvas,
                                sheet->picture, false, NULL};
    ck_assert_int_le(sheet->picture->width, 6000);
    blend_row_8(row, &blend, y);
    return row;
}

/* The pixel as it would be written, 0xRRGGBB; it must lie in the picture, and nothing be drawn any
 * more. */
static unsigned pixel(struct sheet *sheet, double x, double y)
{
    size_t stride = 3 * (size_t)sheet->picture->width;
    if (!sheet->flat) {
        sheet->flat = malloc(stride * (size_t)sheet->picture->height);
        ck_assert_ptr_nonnull(sheet->flat);
        for (int row = 0; row < sheet->picture->height; row++) {
            memcpy(sheet->flat + (size_t)row * stride, row_of(sheet, row), stride);
        }
    }
    const unsigned char *rgb = sheet->flat + (size_t)lround(y) * stride + 3 * (size_t)lround(x);
    return (unsigned)rgb[0] << 16 | (unsigned)rgb[1] << 8 | rgb[2];
}

static unsigned original(const struct picture *picture, int x, int y)
{
    const unsigned char *rgb = picture->rgb + 3 * ((size_t)y * (size_t)picture->width + (size_t)x);
    return (unsigned)rgb[0] << 16 | (unsigned)rgb[1] << 8 | rgb[2];
}

/* Share of the pixels that drawing has changed; box (may be NULL) bounds them. */
static double changed(struct sheet *sheet, const struct picture *picture, int box[4])
{
    long count = 0;
    int bounds[4] = {picture->width, picture->height, -1, -1};
    for (int y = 0; y < picture->height; y++) {
        const unsigned char *row = row_of(sheet, y);
        for (int x = 0; x < picture->width; x++) {
            const unsigned char *p = row + 3 * x;
            if (((unsigned)p[0] << 16 | (unsigned)p[1] << 8 | p[2]) != original(picture, x, y)) {
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

static struct sheet open_sheet(const struct picture *picture)
{
    struct sheet sheet = {.picture = picture};
    struct error err = {0};
    int code =
        canvas_open(&sheet.canvas, picture->width, picture->height, theme_of(THEME_NIGHT), &err);
    ck_assert_msg(code == 0, "%s", err.text);
    return sheet;
}

static void close_sheet(struct sheet *sheet)
{
    canvas_free(&sheet->canvas);
    free(sheet->flat);
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
    things[0] = (struct object){"M 1",
                                "",
                                "Anchor Nebula",
                                "Anchor Nebula",
                                OBJECT_EMISSION_NEBULA,
                                10.3,
                                0.2,
                                6,
                                0,
                                60,
                                60,
                                NAN,
                                NULL};
    things[1] = (struct object){"M 2", "", "", "", OBJECT_GALAXY, 9, -0.6, 8, 0, 2, 2, NAN, NULL};
    things[2] =
        (struct object){"Star", "", "", "", OBJECT_STAR, 11.5, -0.5, 2.5, 0, NAN, NAN, NAN, NULL};
    sky = (struct objects){.object = things, .count = 3, .deep_sky = 2};
}

/* 5 x 3.33 degrees at any size. */
static struct wcs frame_of(const struct picture *picture)
{
    return frame_at(10, 0, 0, false, picture->width, picture->height, 5.0 * 3600 / picture->width);
}

static const struct atlas empty_atlas;

static int draw_overlay(struct canvas *canvas, void *context, struct error *err)
{
    const struct wcs *wcs = context;
    struct field field;
    struct overlay_report report;
    ck_assert_int_eq(field_find(&field, wcs, &sky, NULL), 0);
    const struct overlay_request request = {.wcs = wcs,
                                            .atlas = &empty_atlas,
                                            .field = &field,
                                            .layers = layers_for_field(5),
                                            .title = "In Cetus",
                                            .facts = ""};
    int code = overlay_draw(&report, canvas, &request, err);
    field_free(&field);
    return code ? code : report.objects == 2 && report.stars == 1 ? 0 : ERROR_NO;
}

static void draw(struct sheet *sheet, const struct wcs *wcs)
{
    int code = draw_overlay(&sheet->canvas, (void *)(uintptr_t)wcs, NULL);
    ck_assert(code == 0 || code == ERROR_NO);
}

START_TEST(outlines_lie_where_the_sky_puts_them)
{
    struct picture picture = make_picture(1200, 800, 0, 0);
    struct sheet sheet = open_sheet(&picture);
    struct wcs wcs = frame_of(&picture);
    frame_bend(&wcs, 0.05);
    ck_assert_int_eq(draw_overlay(&sheet.canvas, &wcs, NULL), 0);
    int on_rim = 0;
    for (int i = 0; i < 36; i++) {
        double ra, dec, x, y;
        radec_offset(&ra, &dec, 10.3, 0.2, 10 * i, 0.5); /* 60' across */
        ck_assert(wcs_pixel_radec(&x, &y, &wcs, ra, dec));
        on_rim += is_amber(pixel(&sheet, x, y));
        radec_offset(&ra, &dec, 10.3, 0.2, 10 * i, 0.4);
        ck_assert(wcs_pixel_radec(&x, &y, &wcs, ra, dec));
        ck_assert_uint_eq(pixel(&sheet, x, y), 0);
    }
    ck_assert_int_ge(on_rim, 34); /* its name may touch it */
    close_sheet(&sheet);
    free(picture.rgb);
}
END_TEST

START_TEST(the_rest_of_the_picture_stays_as_it_is)
{
    struct picture picture = make_picture(900, 600, 0, 42);
    struct sheet sheet = open_sheet(&picture);
    struct wcs wcs = frame_of(&picture);
    ck_assert_double_eq(changed(&sheet, &picture, NULL), 0);
    draw(&sheet, &wcs);
    double share = changed(&sheet, &picture, NULL);
    ck_assert_msg(share > 0.01 && share < 0.12, "%.3f of the picture is changed", share);
    /* Clear of all that is drawn: the inside of the outline, the space between. */
    double x, y;
    ck_assert(wcs_pixel_radec(&x, &y, &wcs, 10.3, 0.2));
    int differ = 0;
    for (int dy = -60; dy <= 60; dy++) {
        for (int dx = -60; dx <= 60; dx++) {
            int column = (int)x + dx, row = (int)y + dy;
            differ += pixel(&sheet, column, row) != original(&picture, column, row);
        }
    }
    ck_assert_int_eq(differ, 0);
    close_sheet(&sheet);
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
        struct sheet sheet = open_sheet(&picture);
        struct wcs wcs = frame_of(&picture);
        draw(&sheet, &wcs);
        share[i] = changed(&sheet, &picture, NULL);
        close_sheet(&sheet);
        free(picture.rgb);
    }
    assert_near(share[1] / share[0], 1, 0.15, "ratio"); /* edges of lines are soft for a pixel */
    assert_near(share[2] / share[1], 1, 0.10, "ratio");
}
END_TEST

/* A canvas of any size that needs no memory: where things go does not depend on the surface. */
static void open_vast(struct canvas *canvas, int width, int height)
{
    cairo_surface_t *speck = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, 1, 1);
    ck_assert_int_eq(canvas_open_on(canvas, speck, width, height, theme_of(THEME_NIGHT), NULL), 0);
}

/* Landscape and portrait, from a web page's size to that of a mosaic. */
static const int alike_sizes[][2] = {{600, 400},   {400, 600},    {3000, 2000},
                                     {2000, 3000}, {12000, 8000}, {8000, 12000}};
enum { ALIKE_SIZES = sizeof alike_sizes / sizeof *alike_sizes };

START_TEST(type_has_the_same_share_of_the_diagonal)
{
    static const double sizes[] = {STYLE_TEXT, STYLE_SMALL_TEXT, STYLE_TINY_TEXT};
    for (int kind = 0; kind < 3; kind++) {
        double share_wide = 0, share_high = 0;
        for (int i = 0; i < ALIKE_SIZES; i++) {
            struct canvas canvas;
            const struct pen_text text = {"NGC 7000", sizes[kind], kind == 0, 0};
            double wide, high, diagonal = hypot(alike_sizes[i][0], alike_sizes[i][1]);
            open_vast(&canvas, alike_sizes[i][0], alike_sizes[i][1]);
            pen_measure(&canvas, &text, &wide, &high);
            share_wide = i ? share_wide : wide / diagonal;
            share_high = i ? share_high : high / diagonal;
            assert_near(wide / diagonal / share_wide, 1, 0.002, "ratio");
            assert_near(high / diagonal / share_high, 1, 0.002, "ratio");
            canvas_free(&canvas);
        }
    }
}
END_TEST

static void report_field(struct overlay_report *report, const struct atlas *atlas, int width,
                         int height)
{
    struct canvas canvas;
    struct field field;
    struct wcs wcs =
        frame_at(83, 0, 0, false, width, height, 14.0 * 3600 / (width > height ? width : height));
    open_vast(&canvas, width, height);
    ck_assert_int_eq(field_find(&field, &wcs, &atlas->objects, NULL), 0);
    const struct overlay_request request = {.wcs = &wcs,
                                            .atlas = atlas,
                                            .field = &field,
                                            .layers = ((1U << LAYERS) - 1) & ~(1U << LAYER_CAPTION),
                                            .title = "",
                                            .facts = "",
                                            .other = {4, 3, "300 mm"}};
    ck_assert_int_eq(overlay_draw(report, &canvas, &request, NULL), 0);
    field_free(&field);
    canvas_free(&canvas);
}

/* Scale, arrows, legend, grid labels and every name: the same ones, in the same places. The caption
 * tells the scale of a pixel, which differs. */
START_TEST(names_stand_in_the_same_places_at_any_size)
{
    static struct overlay_report report[ALIKE_SIZES];
    struct atlas atlas;
    ck_assert_int_eq(atlas_load(&atlas, "catalogs", NULL), 0);
    for (int i = 0; i < ALIKE_SIZES; i++) {
        int width = alike_sizes[i][0];
        const struct overlay_report *first = &report[i % 2];
        report_field(&report[i], &atlas, width, alike_sizes[i][1]);
        double scale = (double)width / alike_sizes[i % 2][0];
        ck_assert_int_gt(report[i].names, 30);
        ck_assert_int_eq(report[i].names, first->names);
        for (int k = 0; k < first->names; k++) {
            const struct label_box *a = &first->name[k], *b = &report[i].name[k];
            double half = 0.5; /* the centre of the first pixel is 0 */
            assert_near((b->x + half) / scale, a->x + half, 0.6, "px");
            assert_near((b->y + half) / scale, a->y + half, 0.6, "px");
            assert_near(b->width / scale, a->width, 0.6, "px");
            assert_near(b->height / scale, a->height, 0.6, "px");
        }
    }
    atlas_free(&atlas);
}
END_TEST

/* Dark on dark and light on light would fail: both grounds need a stroke that differs from them. */
START_TEST(lines_and_letters_show_on_black_and_on_white)
{
    static const int greys[] = {0, 128, 255};
    for (int i = 0; i < 3; i++) {
        struct picture picture = make_picture(900, 600, greys[i], 0);
        struct sheet sheet = open_sheet(&picture);
        struct wcs wcs = frame_of(&picture);
        draw(&sheet, &wcs);
        long strong = 0;
        for (int y = 0; y < 600; y++) {
            for (int x = 0; x < 900; x++) {
                int green = pixel(&sheet, x, y) >> 8 & 0xff;
                strong += abs(green - greys[i]) > 60;
            }
        }
        ck_assert_msg(strong > 900 * 600 / 250, "only %ld px stand out of %d", strong, greys[i]);
        close_sheet(&sheet);
        free(picture.rgb);
    }
}
END_TEST

START_TEST(what_is_drawn_is_always_the_same)
{
    struct picture picture = make_picture(900, 600, 0, 42);
    struct sheet one = open_sheet(&picture), two = open_sheet(&picture);
    struct wcs wcs = frame_of(&picture);
    draw(&one, &wcs);
    draw(&two, &wcs);
    ck_assert_int_eq(memcmp(cairo_image_surface_get_data(one.canvas.surface),
                            cairo_image_surface_get_data(two.canvas.surface), 900 * 600 * 4),
                     0);
    close_sheet(&one);
    close_sheet(&two);
    free(picture.rgb);
}
END_TEST

/* A mark of few pixels in the middle of an odd and an even picture. */
START_TEST(pixel_centres_are_whole_numbers)
{
    struct picture picture = make_picture(301, 201, 0, 0);
    struct sheet sheet = open_sheet(&picture);
    int box[4];
    cairo_new_path(sheet.canvas.cairo);
    cairo_move_to(sheet.canvas.cairo, 100, 50);
    cairo_line_to(sheet.canvas.cairo, 200, 50);
    pen_stroke(&sheet.canvas, INK_OBJECT, STYLE_LINE);
    changed(&sheet, &picture, box);
    assert_near((box[0] + box[2]) / 2.0, 150, 0.01, "px");
    assert_near((box[1] + box[3]) / 2.0, 50, 0.01, "px");
    close_sheet(&sheet);
    free(picture.rgb);
}
END_TEST

/* Any shape of picture, with the marks anywhere: nothing crashes, names stay inside. */
START_TEST(odd_pictures_are_no_trouble)
{
    static const int sizes[][2] = {{1, 1}, {1, 500}, {500, 1}, {40, 30}, {300, 2000}, {2000, 150}};
    for (int i = 0; i < 6; i++) {
        struct picture picture = make_picture(sizes[i][0], sizes[i][1], 0, 0);
        struct sheet sheet = open_sheet(&picture);
        struct wcs wcs =
            frame_at(10, 0, 30 * i, i % 2, sizes[i][0], sizes[i][1],
                     5.0 * 3600 / (sizes[i][0] > sizes[i][1] ? sizes[i][0] : sizes[i][1]));
        draw(&sheet, &wcs);
        ck_assert_int_eq(cairo_status(sheet.canvas.cairo), CAIRO_STATUS_SUCCESS);
        close_sheet(&sheet);
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
    struct sheet sheet = open_sheet(&picture);
    struct wcs wcs = frame_at(0, 90, 0, false, 900, 600, 20);
    ck_assert_int_eq(draw_overlay(&sheet.canvas, &wcs, NULL), 0);
    close_sheet(&sheet);
    free(picture.rgb);
}
END_TEST

/* Every tenth degree of the sky: where the ecliptic passes, its name stands beside it, in the
 * picture and not on the line. */
START_TEST(the_ecliptic_is_named_where_it_passes)
{
    const struct objects none = {0};
    for (int i = 0; i < 36; i++) {
        struct picture picture = make_picture(900, 600, 0, 0);
        struct sheet sheet = open_sheet(&picture);
        struct wcs wcs = frame_at(10 * i, 23.4 * sin(10 * i * RAD_PER_DEG), 25 * i, i % 2, 900, 600,
                                  40 * 3600 / 900.0);
        struct field field;
        struct overlay_report report;
        ck_assert_int_eq(field_find(&field, &wcs, &none, NULL), 0);
        const struct overlay_request request = {.wcs = &wcs,
                                                .atlas = &empty_atlas,
                                                .field = &field,
                                                .layers = 1U << LAYER_ECLIPTIC,
                                                .title = "",
                                                .facts = ""};
        ck_assert_int_eq(overlay_draw(&report, &sheet.canvas, &request, NULL), 0);
        ck_assert_int_eq(report.names, 1);
        const struct label_box *box = &report.name[0];
        ck_assert(box->x > 0 && box->y > 0 && box->x + box->width < 899 &&
                  box->y + box->height < 599);
        for (int k = 0; k < 3600; k++) { /* by rotating about the axis of x, J2000 */
            double lon = k / 10.0 * RAD_PER_DEG, tilt = 23.43928 * RAD_PER_DEG, x, y;
            double v[3] = {cos(lon), sin(lon) * cos(tilt), sin(lon) * sin(tilt)};
            ck_assert(!wcs_pixel(&x, &y, &wcs, v) || x < box->x || y < box->y ||
                      x > box->x + box->width || y > box->y + box->height);
        }
        field_free(&field);
        close_sheet(&sheet);
        free(picture.rgb);
    }
}
END_TEST

/* The Moon alone, in the middle of a field so wide that its disc is filled where it is lit. */
static void draw_moon(struct sheet *sheet, const struct wcs *wcs, struct utc time)
{
    const struct objects none = {0};
    struct field field;
    struct overlay_report report;
    ck_assert_int_eq(field_find(&field, wcs, &none, NULL), 0);
    const struct overlay_request request = {.wcs = wcs,
                                            .atlas = &empty_atlas,
                                            .field = &field,
                                            .layers = 1U << LAYER_PLANETS,
                                            .title = "",
                                            .facts = "",
                                            .time_known = true,
                                            .time = time};
    ck_assert_int_eq(overlay_draw(&report, &sheet->canvas, &request, NULL), 0);
    ck_assert_int_ge(report.bodies, 1);
    field_free(&field);
}

/* A month of the Moon, in frames turned and mirrored: bright beside the limb towards the Sun, dark
 * beside the other until it is nearly full. */
START_TEST(the_moon_is_lit_by_the_sun)
{
    for (int day = 0; day < 30; day++) {
        const struct utc time = {2461096 + day, 0};
        double sun[3], moon[3], au, ra, dec, x, y, sun_x, sun_y;
        ck_assert(sun_moon_among_stars(sun, &au, THE_SUN, NULL, time));
        ck_assert(sun_moon_among_stars(moon, &au, THE_MOON, NULL, time));
        double elongation = vector_angle_deg(sun, moon);
        vector_to_radec(&ra, &dec, moon);
        struct picture picture = make_picture(1500, 1000, 0, 0);
        struct sheet sheet = open_sheet(&picture);
        struct wcs wcs = frame_at(ra, dec, 50 * day, day % 2, 1500, 1000, 100);
        draw_moon(&sheet, &wcs, time);
        for (int i = 0; i < 3; i++) {
            sun[i] = moon[i] + 0.001 * (sun[i] - moon[i]);
        }
        ck_assert(wcs_pixel(&x, &y, &wcs, moon) && wcs_pixel(&sun_x, &sun_y, &wcs, sun));
        double length = hypot(sun_x - x, sun_y - y), radius = STYLE_MARK * sheet.canvas.unit,
               part = 0.75 * radius / length;
        unsigned near = pixel(&sheet, x + part * (sun_x - x), y + part * (sun_y - y)),
                 far = pixel(&sheet, x - part * (sun_x - x), y - part * (sun_y - y));
        bool lit = elongation > 70 && elongation < 150; /* so that both parts are broad */
        ck_assert_msg(!lit || (near >> 16) > 200, "day %d: %06x towards the Sun", day, near);
        ck_assert_msg(!lit || elongation > 110 || (far >> 16) < 60, "day %d: %06x behind", day,
                      far);
        close_sheet(&sheet);
        free(picture.rgb);
    }
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
        struct canvas canvas;
        struct wcs wcs = frame_at(10, 0, 0, false, 900, 600, 20);
        bool good = canvas_open(&canvas, 900, 600, theme_of(THEME_NIGHT), NULL) == 0 &&
                    draw_overlay(&canvas, &wcs, NULL) == 0 &&
                    cairo_status(canvas.cairo) == CAIRO_STATUS_SUCCESS;
        _exit(good ? 0 : 1);
    }
    int status = 0;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert(WIFEXITED(status));
    ck_assert_int_eq(WEXITSTATUS(status), 0);
}
END_TEST

static struct drawing drawing_of(const struct picture *picture, const char *name)
{
    struct drawing drawing = {.name = scratch_path(name),
                              .theme = theme_of(THEME_NIGHT),
                              .width = picture->width,
                              .height = picture->height,
                              .picture = picture};
    ck_assert_int_eq(drawing_format_of(&drawing.format, name, NULL), 0);
    return drawing;
}

/* cairo numbers its surfaces within a process, and SVG shows the numbers: each file is written by a
 * process of its own, as the program does. */
static void write_in_child(const struct drawing *drawing, struct wcs *wcs)
{
    int status = 0;
    pid_t child = fork();
    ck_assert(child >= 0);
    if (child == 0) {
        _exit(drawing_write(drawing, draw_overlay, wcs, NULL));
    }
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert_int_eq(status, 0);
}

static void write_drawing(const struct drawing *drawing, struct wcs *wcs)
{
    struct error err = {0};
    int code = drawing_write(drawing, draw_overlay, wcs, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

START_TEST(a_png_reads_back_as_it_was_drawn)
{
    struct picture picture = make_picture(333, 222, 0, 9);
    struct sheet sheet = open_sheet(&picture);
    struct wcs wcs = frame_of(&picture);
    struct error err = {0};
    struct frame frame;
    const struct frame_options how = {.want_picture = true};
    struct drawing drawing = drawing_of(&picture, "drawn.png");
    draw(&sheet, &wcs);
    write_drawing(&drawing, &wcs);
    ck_assert_int_eq(scratch_count(), 1);
    ck_assert_msg(frame_read(&frame, drawing.name, &how, &err) == 0, "%s", err.text);
    ck_assert_int_eq(frame.width, 333);
    ck_assert_int_eq(frame.height, 222);
    ck_assert_double_eq(changed(&sheet, &frame.picture, NULL), 0);
    frame_free(&frame);
    close_sheet(&sheet);
    free(picture.rgb);
}
END_TEST

/* Every value of 16 bits, so that rounding anywhere would show. */
START_TEST(sixteen_bits_stay_as_they_are)
{
    struct picture deep = {.width = 400, .height = 300};
    struct frame frame;
    struct error err = {0};
    const struct frame_options how = {.want_picture = true, .want_deep = true};
    deep.deep = malloc(400 * 300 * 3 * sizeof *deep.deep);
    ck_assert_ptr_nonnull(deep.deep);
    for (int i = 0; i < 400 * 300 * 3; i++) {
        deep.deep[i] = (uint16_t)(i * 7);
    }
    struct wcs wcs = frame_of(&deep);
    struct drawing drawing = drawing_of(&deep, "deep.png");
    write_drawing(&drawing, &wcs);
    ck_assert_msg(frame_read(&frame, drawing.name, &how, &err) == 0, "%s", err.text);
    ck_assert_ptr_nonnull(frame.picture.deep);
    long same = 0;
    for (int i = 0; i < 400 * 300 * 3; i++) {
        same += frame.picture.deep[i] == deep.deep[i];
    }
    double share = (double)same / (400 * 300 * 3);
    ck_assert_msg(share > 0.85 && share < 0.99, "%.3f of the values are as before", share);
    /* Far from everything: the middle of the outline. */
    double x, y;
    ck_assert(wcs_pixel_radec(&x, &y, &wcs, 10.3, 0.2));
    size_t at = 3 * ((size_t)y * 400 + (size_t)x);
    ck_assert_int_eq(memcmp(frame.picture.deep + at, deep.deep + at, 12), 0);
    frame_free(&frame);
    free(deep.deep);
}
END_TEST

enum { PROFILE_BYTES = 252 };

/* All that a header must have (ISO 15076-1, 7.2), and one tag; its bytes don't compress well, since
 * libpng takes no profile that comes in fewer than 132 bytes. */
static void make_profile(unsigned char profile[PROFILE_BYTES], const char *space)
{
    static const unsigned char white[12] = {0, 0, 0xf6, 0xd6, 0, 1, 0, 0, 0, 0, 0xd3, 0x2d};
    memset(profile, 0, PROFILE_BYTES);
    profile[3] = PROFILE_BYTES;
    profile[8] = 4;
    memcpy(profile + 12, "mntr", 4);
    memcpy(profile + 16, space, 4);
    memcpy(profile + 20, "XYZ ", 4);
    memcpy(profile + 36, "acsp", 4);
    memcpy(profile + 68, white, sizeof white);
    profile[131] = 1;
    memcpy(profile + 132, "cprt\0\0\0\x90\0\0\0\x6ctext\0\0\0\0", 20);
    for (int i = 152; i < PROFILE_BYTES; i++) {
        profile[i] = (unsigned char)(i * 37);
    }
}

/* Draws over the picture, reads the file again, and says whether it has the picture's profile; none
 * or this are all that it may have. */
static bool keeps_profile(const struct picture *picture, const char *name, bool red)
{
    struct frame frame;
    struct error err = {0};
    const struct frame_options how = {.want_picture = true, .want_deep = picture->deep != NULL};
    struct wcs wcs = frame_of(picture);
    struct drawing drawing = drawing_of(picture, name);
    drawing.theme = red ? theme_of(THEME_RED) : drawing.theme;
    write_drawing(&drawing, &wcs);
    ck_assert_msg(frame_read(&frame, drawing.name, &how, &err) == 0, "%s", err.text);
    bool kept = frame.picture.profile != NULL;
    if (kept) {
        ck_assert_uint_eq(frame.picture.profile_size, picture->profile_size);
        ck_assert_mem_eq(frame.picture.profile, picture->profile, picture->profile_size);
    }
    frame_free(&frame);
    return kept;
}

START_TEST(colours_keep_their_profile)
{
    unsigned char profile[PROFILE_BYTES];
    make_profile(profile, "RGB ");
    struct picture picture = make_picture(120, 80, 90, 0), deep = {.width = 120, .height = 80};
    picture.profile = deep.profile = profile;
    picture.profile_size = deep.profile_size = sizeof profile;
    deep.deep = malloc(120 * 80 * 3 * sizeof *deep.deep);
    ck_assert_ptr_nonnull(deep.deep);
    for (int i = 0; i < 120 * 80 * 3; i++) {
        deep.deep[i] = (uint16_t)(20000 + i);
    }
    ck_assert(keeps_profile(&picture, "kept.png", false));
    ck_assert(keeps_profile(&picture, "kept.jpg", false));
    ck_assert(keeps_profile(&deep, "deep.png", false));
    ck_assert(keeps_profile(&deep, "deep.jpg", false));
    ck_assert(!keeps_profile(&picture, "red.png", true));
    /* A dark one is stretched when it is read, which the profile knows nothing of. */
    for (int i = 0; i < 120 * 80 * 3; i++) {
        deep.deep[i] = (uint16_t)(i % 500);
    }
    ck_assert(!keeps_profile(&deep, "dark.png", false));
    free(deep.deep);
    free(picture.rgb);
}
END_TEST

START_TEST(only_profiles_of_three_colours_are_kept)
{
    unsigned char profile[PROFILE_BYTES + 1] = {0};
    make_profile(profile, "RGB ");
    ck_assert(colour_profile_is_rgb(profile, PROFILE_BYTES));
    ck_assert(!colour_profile_is_rgb(profile, PROFILE_BYTES + 1));
    ck_assert(!colour_profile_is_rgb(profile, PROFILE_BYTES - 1));
    ck_assert(!colour_profile_is_rgb(profile, 20));
    profile[36] = 'x';
    ck_assert(!colour_profile_is_rgb(profile, PROFILE_BYTES));
    make_profile(profile, "GRAY");
    ck_assert(!colour_profile_is_rgb(profile, PROFILE_BYTES));
    make_profile(profile, "CMYK");
    ck_assert(!colour_profile_is_rgb(profile, PROFILE_BYTES));
}
END_TEST

/* Compression may change a level by a few steps, but nothing may move. */
START_TEST(a_jpeg_is_near_to_what_was_drawn)
{
    struct picture picture = make_picture(333, 222, 90, 0);
    struct sheet sheet = open_sheet(&picture);
    struct wcs wcs = frame_of(&picture);
    struct error err = {0};
    struct frame frame;
    const struct frame_options how = {.want_picture = true};
    struct drawing drawing = drawing_of(&picture, "drawn.jpg");
    draw(&sheet, &wcs);
    write_drawing(&drawing, &wcs);
    ck_assert_msg(frame_read(&frame, drawing.name, &how, &err) == 0, "%s", err.text);
    double sum = 0;
    for (int y = 0; y < 222; y++) {
        const unsigned char *row = row_of(&sheet, y);
        for (int i = 0; i < 3 * 333; i++) {
            sum += abs(row[i] - frame.picture.rgb[y * 3 * 333 + i]);
        }
    }
    ck_assert_msg(sum / (3 * 333 * 222) < 2, "off by %.2f levels", sum / (3 * 333 * 222));
    frame_free(&frame);
    close_sheet(&sheet);
    free(picture.rgb);
}
END_TEST

/* Both are drawn twice: the same bytes must come out. */
START_TEST(vector_files_begin_as_they_should_and_are_repeatable)
{
    static const char *const names[] = {"drawn.svg", "drawn.pdf"}, *const heads[] = {"<?xml",
                                                                                     "%PDF-"};
    struct picture picture = make_picture(333, 222, 0, 9);
    struct wcs wcs = frame_of(&picture);
    for (int i = 0; i < 2; i++) {
        struct drawing drawing = drawing_of(&picture, names[i]);
        size_t size[3];
        unsigned char *bytes[3];
        for (int turn = 0; turn < 3; turn++) {
            drawing.picture = turn < 2 ? &picture : NULL;
            write_in_child(&drawing, &wcs);
            bytes[turn] = scratch_read(drawing.name, &size[turn]);
            ck_assert_int_eq(memcmp(bytes[turn], heads[i], 5), 0);
        }
        ck_assert_uint_eq(size[0], size[1]);
        ck_assert_int_eq(memcmp(bytes[0], bytes[1], size[0]), 0);
        ck_assert_uint_lt(size[2] + 333 * 222, size[0]); /* noise does not compress */
        for (int turn = 0; turn < 3; turn++) {
            free(bytes[turn]);
        }
    }
    ck_assert_int_eq(scratch_count(), 2);
    free(picture.rgb);
}
END_TEST

/* Laid over black by hand, the drawing alone must give what it gives on black. */
START_TEST(a_drawing_alone_is_clear_where_nothing_is_drawn)
{
    struct picture black = make_picture(333, 222, 0, 0);
    struct sheet sheet = open_sheet(&black);
    struct wcs wcs = frame_of(&black);
    draw(&sheet, &wcs);
    const struct blend alone = {333, 222, &sheet.canvas, NULL, false, NULL};
    unsigned char row[4 * 333];
    long clear = 0;
    for (int y = 0; y < 222; y++) {
        blend_row_alpha(row, &alone, y);
        for (int x = 0; x < 333; x++) {
            const unsigned char *p = row + 4 * x;
            int red = (int)(pixel(&sheet, x, y) >> 16);
            clear += p[3] == 0;
            assert_near(p[0] * p[3] / 255.0, red, 1.01, "level");
        }
    }
    ck_assert_int_gt(clear, 333 * 222 * 8 / 10);
    close_sheet(&sheet);
    free(black.rgb);
}
END_TEST

START_TEST(a_red_theme_sends_out_nothing_but_red)
{
    struct picture picture = make_picture(333, 222, 0, 9);
    struct wcs wcs = frame_of(&picture);
    struct error err = {0};
    struct frame frame;
    const struct frame_options how = {.want_picture = true};
    struct drawing drawing = drawing_of(&picture, "red.png");
    drawing.theme = theme_of(THEME_RED);
    write_drawing(&drawing, &wcs);
    ck_assert_msg(frame_read(&frame, drawing.name, &how, &err) == 0, "%s", err.text);
    long red = 0;
    for (int i = 0; i < 3 * 333 * 222; i += 3) {
        red += frame.picture.rgb[i] > 100;
        ck_assert_int_eq(frame.picture.rgb[i + 1] + frame.picture.rgb[i + 2], 0);
    }
    ck_assert_int_gt(red, 333 * 222 / 4);
    frame_free(&frame);
    free(picture.rgb);
}
END_TEST

/* Restores what was never saved, which stops cairo. */
static int draw_nonsense(struct canvas *canvas, void *context, struct error *err)
{
    (void)context;
    (void)err;
    cairo_restore(canvas->cairo);
    return 0;
}

/* SVG numbers the surfaces of a process, see write_in_child. */
START_TEST(memory_takes_the_bytes_of_the_file)
{
    struct picture picture = make_picture(120, 80, 0, 9);
    struct wcs wcs = frame_of(&picture);
    static const char *const names[] = {"drawn.png", "drawn.jpg", "drawn.pdf"};
    for (int i = 0; i < 3; i++) {
        size_t size;
        struct file_bytes bytes = {0};
        struct drawing drawing = drawing_of(&picture, names[i]);
        write_drawing(&drawing, &wcs);
        unsigned char *file = scratch_read(drawing.name, &size);
        drawing.memory = &bytes;
        write_drawing(&drawing, &wcs);
        ck_assert_uint_eq(bytes.size, size);
        ck_assert_mem_eq(bytes.bytes, file, size);
        file_bytes_free(&bytes);
        free(file);
    }
    free(picture.rgb);
}
END_TEST

START_TEST(what_cannot_be_written_is_refused_and_leaves_nothing)
{
    struct picture picture = make_picture(60, 40, 0, 9);
    struct wcs wcs = frame_of(&picture);
    struct error err = {0};
    struct drawing nowhere = drawing_of(&picture, "none/drawn.png");
    ck_assert_int_eq(drawing_write(&nowhere, draw_overlay, &wcs, &err), ERROR_OUTPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "none/drawn.png"));
    static const char *const names[] = {"drawn.png", "drawn.jpg", "drawn.svg", "drawn.pdf"};
    for (int i = 0; i < 4; i++) {
        struct drawing drawing = drawing_of(&picture, names[i]);
        memset(&err, 0, sizeof err);
        ck_assert_int_eq(drawing_write(&drawing, draw_nonsense, NULL, &err), ERROR_INPUT);
    }
    ck_assert_int_eq(scratch_count(), 0);
    free(picture.rgb);
}
END_TEST

START_TEST(the_end_of_a_name_says_what_to_write)
{
    enum drawing_format format;
    struct error err = {0};
    ck_assert_int_eq(drawing_format_of(&format, "a.b/c.JPeG", &err), 0);
    ck_assert_int_eq(format, DRAWING_JPEG);
    ck_assert_int_eq(drawing_format_of(&format, "x.pdf", &err), 0);
    ck_assert_int_eq(format, DRAWING_PDF);
    static const char *const wrong[] = {"", ".png", "png", "a.png.", "a.tif", "a.svgz", "a"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        ck_assert_int_eq(drawing_format_of(&format, wrong[i], &err), ERROR_USAGE);
    }
}
END_TEST

START_TEST(a_picture_that_is_too_large_is_refused)
{
    struct canvas canvas;
    struct error err = {0};
    int code = canvas_open(&canvas, CANVAS_LARGEST_SIDE + 1, 2, theme_of(THEME_NIGHT), &err);
    ck_assert_int_eq(code, ERROR_INPUT);
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
    tcase_add_test(overlay, type_has_the_same_share_of_the_diagonal);
    tcase_add_test(overlay, names_stand_in_the_same_places_at_any_size);
    tcase_add_test(overlay, lines_and_letters_show_on_black_and_on_white);
    tcase_add_test(overlay, what_is_drawn_is_always_the_same);
    tcase_add_test(overlay, pixel_centres_are_whole_numbers);
    tcase_add_test(overlay, odd_pictures_are_no_trouble);
    tcase_add_test(overlay, a_field_at_the_pole_is_drawn);
    tcase_add_test(overlay, the_ecliptic_is_named_where_it_passes);
    tcase_add_test(overlay, the_moon_is_lit_by_the_sun);
    suite_add_tcase(suite, overlay);
    TCase *files = tcase_create("files");
    tcase_add_checked_fixture(files, make_sky, NULL);
    tcase_add_checked_fixture(files, scratch_make, scratch_remove);
    tcase_add_test(files, without_fonts_nothing_crashes);
    tcase_add_test(files, a_png_reads_back_as_it_was_drawn);
    tcase_add_test(files, sixteen_bits_stay_as_they_are);
    tcase_add_test(files, colours_keep_their_profile);
    tcase_add_test(files, only_profiles_of_three_colours_are_kept);
    tcase_add_test(files, a_jpeg_is_near_to_what_was_drawn);
    tcase_add_test(files, vector_files_begin_as_they_should_and_are_repeatable);
    tcase_add_test(files, a_drawing_alone_is_clear_where_nothing_is_drawn);
    tcase_add_test(files, a_red_theme_sends_out_nothing_but_red);
    tcase_add_test(files, the_end_of_a_name_says_what_to_write);
    tcase_add_test(files, memory_takes_the_bytes_of_the_file);
    tcase_add_test(files, what_cannot_be_written_is_refused_and_leaves_nothing);
    tcase_add_test(files, a_picture_that_is_too_large_is_refused);
    suite_add_tcase(suite, files);
    return suite;
}
