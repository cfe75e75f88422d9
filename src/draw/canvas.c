#include "draw/canvas.h"

#include <math.h>
#include <string.h>

int canvas_open_on(struct canvas *canvas, cairo_surface_t *surface, int width, int height,
                   const struct theme *theme, struct error *err)
{
    *canvas = (struct canvas){
        .surface = surface,
        .cairo = cairo_create(surface),
        .theme = theme,
        .width = width,
        .height = height,
        .unit = sqrt((double)width * height) / 1000,
    };
    if (cairo_status(canvas->cairo) != CAIRO_STATUS_SUCCESS) {
        canvas_free(canvas);
        return error_memory(err);
    }
    cairo_translate(canvas->cairo, 0.5, 0.5);
    cairo_set_line_join(canvas->cairo, CAIRO_LINE_JOIN_ROUND);
    canvas->lettering.cairo = canvas->cairo;
    return 0;
}

int canvas_open(struct canvas *canvas, int width, int height, const struct theme *theme,
                struct error *err)
{
    memset(canvas, 0, sizeof *canvas);
    if (width > CANVAS_LARGEST_SIDE || height > CANVAS_LARGEST_SIDE) {
        return error_set(err, ERROR_INPUT,
                         "a picture of %d x %d px is too large to draw on: at most %d px a side",
                         width, height, CANVAS_LARGEST_SIDE);
    }
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width, height);
    return canvas_open_on(canvas, surface, width, height, theme, err);
}

void canvas_scale(struct canvas *canvas, double units)
{
    canvas->scaled = true;
    cairo_identity_matrix(canvas->cairo);
    cairo_scale(canvas->cairo, units, units);
    cairo_translate(canvas->cairo, 0.5, 0.5);
}

void canvas_free(struct canvas *canvas)
{
    lettering_free(&canvas->lettering);
    if (canvas->cairo) {
        cairo_destroy(canvas->cairo);
    }
    if (canvas->surface) {
        cairo_surface_destroy(canvas->surface);
    }
    memset(canvas, 0, sizeof *canvas);
}

const uint32_t *canvas_row(struct canvas *canvas, int y)
{
    if (cairo_surface_get_type(canvas->surface) != CAIRO_SURFACE_TYPE_IMAGE) {
        return NULL;
    }
    cairo_surface_flush(canvas->surface);
    const unsigned char *data = cairo_image_surface_get_data(canvas->surface);
    size_t stride = (size_t)cairo_image_surface_get_stride(canvas->surface);
    return (const uint32_t *)(const void *)(data + (size_t)y * stride);
}

int canvas_check(const struct canvas *canvas, const char *name, struct error *err)
{
    cairo_status_t status = cairo_status(canvas->cairo);
    if (status == CAIRO_STATUS_NO_MEMORY) {
        return error_memory(err);
    }
    if (status != CAIRO_STATUS_SUCCESS) {
        return error_set(err, ERROR_INPUT, "%s: cannot be drawn: %s", name,
                         cairo_status_to_string(status));
    }
    return lettering_check(&canvas->lettering, name, err);
}
