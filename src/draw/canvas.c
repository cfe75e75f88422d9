#include "draw/canvas.h"

#include "base/file.h"
#include "draw/write_png.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

static void copy_pixels(cairo_surface_t *surface, const struct picture *picture)
{
    unsigned char *to = cairo_image_surface_get_data(surface);
    size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    cairo_surface_flush(surface);
    for (int y = 0; y < picture->height; y++) {
        const unsigned char *rgb = picture->rgb + (size_t)y * (size_t)picture->width * 3;
        unsigned char *row = to + (size_t)y * stride;
        for (int x = 0; x < picture->width; x++) {
            uint32_t pixel =
                (uint32_t)rgb[3 * x] << 16 | (uint32_t)rgb[3 * x + 1] << 8 | rgb[3 * x + 2];
            memcpy(row + 4 * (size_t)x, &pixel, 4);
        }
    }
    cairo_surface_mark_dirty(surface);
}

int canvas_open(struct canvas *canvas, const struct picture *picture, struct error *err)
{
    memset(canvas, 0, sizeof *canvas);
    if (picture->width > CANVAS_LARGEST_SIDE || picture->height > CANVAS_LARGEST_SIDE) {
        return error_set(err, ERROR_INPUT,
                         "a picture of %d x %d px is too large to draw on: at most %d px a side",
                         picture->width, picture->height, CANVAS_LARGEST_SIDE);
    }
    canvas->surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture->width, picture->height);
    canvas->cairo = cairo_create(canvas->surface);
    if (cairo_status(canvas->cairo) != CAIRO_STATUS_SUCCESS) {
        canvas_free(canvas);
        return error_memory(err);
    }
    canvas->width = picture->width;
    canvas->height = picture->height;
    canvas->unit = sqrt((double)picture->width * picture->height) / 1000;
    copy_pixels(canvas->surface, picture);
    cairo_translate(canvas->cairo, 0.5, 0.5);
    cairo_set_line_join(canvas->cairo, CAIRO_LINE_JOIN_ROUND);
    return 0;
}

void canvas_free(struct canvas *canvas)
{
    if (canvas->cairo) {
        cairo_destroy(canvas->cairo);
    }
    if (canvas->surface) {
        cairo_surface_destroy(canvas->surface);
    }
    memset(canvas, 0, sizeof *canvas);
}

static void set_colour(struct canvas *canvas, const struct colour *colour)
{
    cairo_set_source_rgba(canvas->cairo, colour->red, colour->green, colour->blue, colour->alpha);
}

void canvas_stroke(struct canvas *canvas, const struct colour *colour, double width)
{
    if (canvas->quiet) {
        cairo_new_path(canvas->cairo);
        return;
    }
    cairo_set_line_width(canvas->cairo, (width + 2 * STYLE_RIM) * canvas->unit);
    set_colour(canvas, &style_rim);
    cairo_stroke_preserve(canvas->cairo);
    cairo_set_line_width(canvas->cairo, width * canvas->unit);
    set_colour(canvas, colour);
    cairo_stroke(canvas->cairo);
}

static void choose_font(struct canvas *canvas, const struct canvas_text *text)
{
    cairo_select_font_face(canvas->cairo, "sans", CAIRO_FONT_SLANT_NORMAL,
                           text->strong ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(canvas->cairo, fmax(STYLE_LEAST_TEXT_PX, text->size * canvas->unit));
}

void canvas_measure(struct canvas *canvas, const struct canvas_text *text, double *width,
                    double *height)
{
    cairo_text_extents_t line = {0};
    cairo_font_extents_t font = {0};
    choose_font(canvas, text);
    cairo_text_extents(canvas->cairo, text->text, &line);
    cairo_font_extents(canvas->cairo, &font);
    *width = line.x_advance;
    *height = font.ascent + font.descent;
}

void canvas_write(struct canvas *canvas, const struct canvas_text *text, double x, double y,
                  const struct colour *colour)
{
    cairo_font_extents_t font = {0};
    if (canvas->quiet) {
        return;
    }
    choose_font(canvas, text);
    cairo_font_extents(canvas->cairo, &font);
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x, y + font.ascent);
    cairo_text_path(canvas->cairo, text->text);
    cairo_set_line_width(canvas->cairo, 2 * STYLE_TEXT_RIM * canvas->unit);
    set_colour(canvas, &style_text_rim);
    cairo_stroke_preserve(canvas->cairo);
    set_colour(canvas, colour);
    cairo_fill(canvas->cairo);
}

int canvas_save_png(struct canvas *canvas, const char *name, struct error *err)
{
    cairo_status_t status = cairo_status(canvas->cairo);
    if (status == CAIRO_STATUS_NO_MEMORY) {
        return error_memory(err);
    }
    if (status != CAIRO_STATUS_SUCCESS) {
        return error_set(err, ERROR_INPUT, "%s: cannot be drawn: %s", name,
                         cairo_status_to_string(status));
    }
    struct file_out out = {0};
    int code = file_out_open(&out, name, err);
    if (code) {
        return code;
    }
    cairo_surface_flush(canvas->surface);
    code = write_png(out.stream, name, cairo_image_surface_get_data(canvas->surface), canvas->width,
                     canvas->height, cairo_image_surface_get_stride(canvas->surface), err);
    if (code) {
        file_out_abandon(&out);
        return code;
    }
    return file_out_commit(&out, err);
}
