#include "sheet.h"

#include <stdlib.h>
#include <string.h>

cairo_surface_t *sheet_open(const struct sheet_kind *kind, cairo_write_func_t write, void *context,
                            double width, double height)
{
    static cairo_surface_t nothing = {.status = CAIRO_STATUS_NO_MEMORY};
    cairo_surface_t *sheet = calloc(1, sizeof *sheet);
    if (!sheet) {
        return &nothing;
    }
    *sheet = (cairo_surface_t){.kind = kind,
                               .width = width,
                               .height = height,
                               .write = write,
                               .context = context,
                               .status = kind ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_INVALID_FORMAT};
    if (kind) {
        sheet->body = open_memstream(&sheet->bytes, &sheet->size);
        sheet->status = sheet->body ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_NO_MEMORY;
    }
    return sheet;
}

cairo_surface_type_t cairo_surface_get_type(cairo_surface_t *surface)
{
    return surface->kind ? surface->kind->type : CAIRO_SURFACE_TYPE_IMAGE;
}

cairo_status_t cairo_surface_status(cairo_surface_t *surface)
{
    return surface->status;
}

cairo_status_t cairo_surface_set_mime_data(cairo_surface_t *surface, const char *type,
                                           const unsigned char *bytes, unsigned long length,
                                           cairo_destroy_func_t destroy, void *closure)
{
    surface->mime = type;
    surface->mime_bytes = bytes;
    surface->mime_length = length;
    surface->destroy = destroy;
    surface->closure = closure;
    return CAIRO_STATUS_SUCCESS;
}

cairo_status_t cairo_surface_write_to_png_stream(cairo_surface_t *surface, cairo_write_func_t write,
                                                 void *context)
{
    (void)surface;
    (void)write;
    (void)context;
    return CAIRO_STATUS_INVALID_FORMAT;
}

void cairo_surface_flush(cairo_surface_t *surface)
{
    (void)surface;
}

void cairo_surface_mark_dirty(cairo_surface_t *surface)
{
    (void)surface;
}

void cairo_surface_finish(cairo_surface_t *sheet)
{
    if (!sheet->kind || !sheet->body || sheet->finished || !sheet->write) {
        return;
    }
    sheet->finished = true;
    char *file = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&file, &size);
    fflush(sheet->body);
    if (out) {
        sheet->kind->finish(sheet, out);
        fclose(out);
    }
    if (!file) {
        sheet->status = CAIRO_STATUS_NO_MEMORY;
    } else if (sheet->write(sheet->context, (unsigned char *)file, (unsigned)size) !=
               CAIRO_STATUS_SUCCESS) {
        sheet->status = CAIRO_STATUS_WRITE_ERROR;
    }
    free(file);
}

void cairo_surface_destroy(cairo_surface_t *sheet)
{
    if (!sheet->kind && !sheet->width) {
        return; /* the one that stands for a lack of memory */
    }
    cairo_surface_finish(sheet);
    if (sheet->destroy) {
        sheet->destroy(sheet->closure);
    }
    if (sheet->body) {
        fclose(sheet->body);
    }
    free(sheet->bytes);
    free(sheet->pixels);
    free(sheet);
}

const char *cairo_status_to_string(cairo_status_t status)
{
    switch (status) {
    case CAIRO_STATUS_SUCCESS:
        return "no error";
    case CAIRO_STATUS_NO_MEMORY:
        return "out of memory";
    case CAIRO_STATUS_WRITE_ERROR:
        return "it could not be written";
    case CAIRO_STATUS_INVALID_FORMAT:
        return "in a page a drawing is .svg or .pdf";
    }
    return "";
}
