#include "draw/page.h"

#include "image/own_mark.h"

#include <cairo-pdf.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

static const double png_scale = 150 / 72.0; /* dots a point */
static const double rim_width = 1.2;

static const double inks[2][PAGE_INKS][3] = {
    {{1, 1, 1}, {0, 0, 0}, {0.33, 0.33, 0.33}, {0.78, 0.78, 0.78}},
    {{0.02, 0, 0}, {0.82, 0.1, 0.06}, {0.64, 0.07, 0.045}, {0.26, 0.025, 0.02}},
};

static cairo_status_t keep_bytes(void *context, const unsigned char *bytes, unsigned int length)
{
    struct page *page = context;
    if (page->length + length > page->capacity) {
        size_t capacity = 2 * (page->length + length) + 65536;
        char *more = realloc(page->bytes, capacity);
        if (!more) {
            return CAIRO_STATUS_NO_MEMORY;
        }
        page->bytes = more;
        page->capacity = capacity;
    }
    memcpy(page->bytes + page->length, bytes, length);
    page->length += length;
    return CAIRO_STATUS_SUCCESS;
}

static void open_pdf(struct page *page, const char *title, const char *date)
{
    page->surface = cairo_pdf_surface_create_for_stream(keep_bytes, page, PAGE_WIDTH, PAGE_HEIGHT);
    cairo_pdf_surface_set_metadata(page->surface, CAIRO_PDF_METADATA_TITLE, title);
    cairo_pdf_surface_set_metadata(page->surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
}

int page_open(struct page *page, enum page_format format, bool red, const char *title,
              const char *date, struct error *err)
{
    memset(page, 0, sizeof *page);
    page->red = red;
    page->format = format;
    if (format == PAGE_PDF) {
        open_pdf(page, title, date);
    } else {
        page->surface =
            cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(PAGE_WIDTH * png_scale + 0.5),
                                       (int)(PAGE_HEIGHT * png_scale + 0.5));
    }
    page->cairo = cairo_create(page->surface);
    if (cairo_status(page->cairo) != CAIRO_STATUS_SUCCESS) {
        page_free(page);
        return error_memory(err);
    }
    if (format == PAGE_PNG) {
        cairo_scale(page->cairo, png_scale, png_scale);
    }
    cairo_set_line_join(page->cairo, CAIRO_LINE_JOIN_ROUND);
    page->lettering.cairo = page->cairo;
    page_ink(page, PAGE_PAPER);
    cairo_paint(page->cairo);
    return 0;
}

void page_free(struct page *page)
{
    lettering_free(&page->lettering);
    if (page->cairo) {
        cairo_destroy(page->cairo);
    }
    if (page->surface) {
        cairo_surface_destroy(page->surface);
    }
    free(page->bytes);
    memset(page, 0, sizeof *page);
}

static int finish(struct page *page, const char *name, struct error *err)
{
    cairo_status_t status = cairo_status(page->cairo);
    if (status == CAIRO_STATUS_SUCCESS && page->format == PAGE_PNG) {
        status = cairo_surface_write_to_png_stream(page->surface, keep_bytes, page);
    } else if (status == CAIRO_STATUS_SUCCESS) {
        cairo_show_page(page->cairo);
        cairo_surface_finish(page->surface);
        status = cairo_surface_status(page->surface);
    }
    if (status == CAIRO_STATUS_NO_MEMORY) {
        return error_memory(err);
    }
    return status == CAIRO_STATUS_SUCCESS ? 0
                                          : error_set(err, ERROR_OUTPUT, "%s: cannot be drawn: %s",
                                                      name, cairo_status_to_string(status));
}

static void put_number(unsigned char to[4], uint32_t number)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (unsigned char)(number >> (24 - 8 * i));
    }
}

/* Cairo's PNG with the mark behind its first chunk, the header; cairo itself writes no text. */
static void write_marked(const struct page *page, FILE *out)
{
    enum { HEADER_END = 8 + 25 };
    static const char text[] = "tEXt" OWN_MARK_KEYWORD "\0" OWN_MARK;
    unsigned char length[4], sum[4];
    put_number(length, sizeof text - 1 - 4);
    put_number(sum, (uint32_t)crc32(0, (const unsigned char *)text, sizeof text - 1));
    fwrite(page->bytes, 1, HEADER_END, out);
    fwrite(length, 1, sizeof length, out);
    fwrite(text, 1, sizeof text - 1, out);
    fwrite(sum, 1, sizeof sum, out);
    fwrite(page->bytes + HEADER_END, 1, page->length - HEADER_END, out);
}

int page_save(struct page *page, const struct file_target *target, struct error *err)
{
    struct file_out out = {0};
    int code = lettering_check(&page->lettering, target->name, err);
    code = code ? code : finish(page, target->name, err);
    code = code ? code : file_out_open_to(&out, target, err);
    if (code) {
        return code;
    }
    /* A write that fails shows when the file is committed. */
    if (page->format == PAGE_PNG) {
        write_marked(page, out.stream);
    } else {
        fwrite(page->bytes, 1, page->length, out.stream);
    }
    return file_out_commit(&out, err);
}

static struct colour colour_of(const struct page *page, enum page_ink ink)
{
    const double *rgb = inks[page->red][ink];
    return (struct colour){rgb[0], rgb[1], rgb[2], 1};
}

void page_ink(struct page *page, enum page_ink ink)
{
    struct colour colour = colour_of(page, ink);
    cairo_set_source_rgb(page->cairo, colour.red, colour.green, colour.blue);
}

static struct lettering_line line_of(const struct page_type *type, const char *text)
{
    return (struct lettering_line){.text = text, .size = type->size, .strong = type->strong};
}

static struct lettering_ink letter_ink(const struct page *page, const struct page_type *type,
                                       double rim)
{
    return (struct lettering_ink){colour_of(page, type->ink), colour_of(page, PAGE_PAPER), rim};
}

double page_text_width(struct page *page, const struct page_type *type, const char *text)
{
    struct lettering_extents extents;
    const struct lettering_line line = line_of(type, text);
    lettering_measure(&extents, &page->lettering, &line);
    return extents.width;
}

static double write_text(struct page *page, const struct page_type *type, double x, double y,
                         const char *text, double rim)
{
    double width = page_text_width(page, type, text);
    double part = type->align == PAGE_RIGHT ? 1 : type->align == PAGE_MIDDLE ? 0.5 : 0;
    const struct lettering_line line = line_of(type, text);
    const struct lettering_ink ink = letter_ink(page, type, rim);
    lettering_write(&page->lettering, &line, x - part * width, y, &ink);
    return width;
}

double page_text(struct page *page, const struct page_type *type, double x, double y,
                 const char *text)
{
    return write_text(page, type, x, y, text, 0);
}

double page_text_on_rim(struct page *page, const struct page_type *type, double x, double y,
                        const char *text)
{
    return write_text(page, type, x, y, text, rim_width);
}

void page_text_fit(struct page *page, const struct page_type *type, double x, double y,
                   double width, const char *text)
{
    struct page_type fitted = *type;
    double wanted = page_text_width(page, type, text);
    fitted.size *= wanted > width ? width / wanted : 1;
    page_text(page, &fitted, x, y, text);
}

double page_paragraph(struct page *page, const struct page_type *type, double x, double y,
                      double width, const char *text)
{
    const double leading = 1.32 * type->size;
    const struct lettering_line line = line_of(type, text);
    const struct lettering_ink ink = letter_ink(page, type, 0);
    return y +
           leading * lettering_write_wrapped(&page->lettering, &line, x, y, width, leading, &ink);
}
