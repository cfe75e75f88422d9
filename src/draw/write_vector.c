#include "draw/write_vector.h"

#include "base/file.h"
#include "draw/blend.h"
#include "draw/write_png.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const double a4_points = 841.89; /* its longer side */

/* A failure shows when the file is committed, which names the reason; cairo would forget it. */
static cairo_status_t put_bytes(void *stream, const unsigned char *bytes, unsigned length)
{
    fwrite(bytes, 1, length, stream);
    return CAIRO_STATUS_SUCCESS;
}

static double page_scale(int width, int height)
{
    return a4_points / (width > height ? width : height);
}

/* cairo would put the hour into the file; the same drawing shall give the same bytes. */
static cairo_surface_t *open_pdf(FILE *stream, int width, int height)
{
    double scale = page_scale(width, height);
    cairo_surface_t *surface =
        cairo_pdf_surface_create_for_stream(put_bytes, stream, width * scale, height * scale);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, "2000-01-01T00:00:00Z");
    return surface;
}

static cairo_surface_t *open_svg(FILE *stream, int width, int height)
{
    cairo_surface_t *surface =
        cairo_svg_surface_create_for_stream(put_bytes, stream, width, height);
    cairo_svg_surface_set_document_unit(surface, CAIRO_SVG_UNIT_PX);
    return surface;
}

/* The picture's pixels as cairo keeps them, red light only if the theme wants that. */
static void copy_pixels(cairo_surface_t *image, const struct blend *blend, unsigned char *rgb)
{
    unsigned char *to = cairo_image_surface_get_data(image);
    size_t stride = (size_t)cairo_image_surface_get_stride(image);
    cairo_surface_flush(image);
    for (int y = 0; y < blend->height; y++, to += stride) {
        blend_row_8(rgb, blend, y);
        for (size_t x = 0; x < (size_t)blend->width; x++) {
            const unsigned char *p = rgb + 3 * x;
            uint32_t pixel = (uint32_t)p[0] << 16 | (uint32_t)p[1] << 8 | p[2];
            memcpy(to + 4 * x, &pixel, 4);
        }
    }
    cairo_surface_mark_dirty(image);
}

static void release_map(void *map)
{
    file_map_close(map);
    free(map);
}

/* Lets the file's own JPEG bytes stand for the pixels; whether that works doesn't matter. */
static void attach_jpeg(cairo_surface_t *image, const struct picture_source *jpeg)
{
    if (jpeg->bytes) {
        cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_JPEG, jpeg->bytes, jpeg->size, NULL,
                                    NULL);
        return;
    }
    struct file_map *map = calloc(1, sizeof *map);
    if (!map || file_map_open(map, jpeg->name, NULL)) {
        free(map);
        return;
    }
    if (cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_JPEG, map->bytes, map->size, release_map,
                                    map) != CAIRO_STATUS_SUCCESS) {
        release_map(map);
    }
}

/* SVG wants its pictures as PNG; cairo's own takes ten times as long as this one. */
static int attach_png(cairo_surface_t *image, const struct blend *blend, const char *name,
                      struct error *err)
{
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (!memory) {
        return error_memory(err);
    }
    int code = write_png(memory, name, blend, true, err);
    if (fclose(memory) != 0 && !code) {
        code = error_memory(err);
    }
    if (!code && cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_PNG, (unsigned char *)bytes,
                                             size, free, bytes) == CAIRO_STATUS_SUCCESS) {
        return 0;
    }
    free(bytes);
    return code ? code : error_memory(err);
}

static int paint_image(struct canvas *canvas, cairo_surface_t *image, const struct drawing *drawing,
                       struct error *err)
{
    const struct blend blend = {drawing->width,   drawing->height,     NULL,
                                drawing->picture, drawing->theme->red, NULL};
    unsigned char *rgb = malloc((size_t)drawing->width * 3);
    if (!rgb || cairo_surface_status(image) != CAIRO_STATUS_SUCCESS) {
        free(rgb);
        return error_memory(err);
    }
    int code = 0;
    copy_pixels(image, &blend, rgb);
    if (drawing->jpeg && !drawing->theme->red) {
        attach_jpeg(image, drawing->jpeg);
    } else if (drawing->format == DRAWING_SVG) {
        code = attach_png(image, &blend, drawing->name, err);
    }
    free(rgb);
    if (!code) {
        cairo_set_source_surface(canvas->cairo, image, -0.5, -0.5);
        cairo_paint(canvas->cairo);
    }
    return code;
}

static int paint_picture(struct canvas *canvas, const struct drawing *drawing, struct error *err)
{
    if (!drawing->picture) {
        return 0;
    }
    cairo_surface_t *image =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, drawing->width, drawing->height);
    int code = paint_image(canvas, image, drawing, err);
    cairo_surface_destroy(image);
    return code;
}

static int finish(struct canvas *canvas, const struct drawing *drawing, struct error *err)
{
    int code = canvas_check(canvas, drawing->name, err);
    errno = 0;
    cairo_surface_finish(canvas->surface);
    if (!code && cairo_surface_status(canvas->surface) != CAIRO_STATUS_SUCCESS) {
        code = error_set(err, ERROR_OUTPUT, "%s: cannot be written: %s", drawing->name,
                         errno ? strerror(errno)
                               : cairo_status_to_string(cairo_surface_status(canvas->surface)));
    }
    return code;
}

int write_vector(FILE *stream, const struct drawing *drawing, drawing_content *content,
                 void *context, struct error *err)
{
    bool pdf = drawing->format == DRAWING_PDF;
    struct canvas canvas = {0};
    cairo_surface_t *surface = pdf ? open_pdf(stream, drawing->width, drawing->height)
                                   : open_svg(stream, drawing->width, drawing->height);
    int code =
        canvas_open_on(&canvas, surface, drawing->width, drawing->height, drawing->theme, err);
    if (code) {
        return code;
    }
    if (pdf) {
        canvas_scale(&canvas, page_scale(drawing->width, drawing->height));
    }
    code = paint_picture(&canvas, drawing, err);
    code = code ? code : content(&canvas, context, err);
    code = code ? code : finish(&canvas, drawing, err);
    canvas_free(&canvas);
    return code;
}
