/* draw/page.h: a sheet of paper to write on, as PDF or PNG: black on white, or dark red on black
 * for a screen in the field. */
#ifndef ALIDADE_DRAW_PAGE_H
#define ALIDADE_DRAW_PAGE_H

#include "base/file.h"
#include "draw/lettering.h"

#include <cairo.h>
#include <stdbool.h>
#include <stddef.h>

enum page_ink { PAGE_PAPER, PAGE_INK, PAGE_SOFT, PAGE_FAINT, PAGE_INKS };
enum page_format { PAGE_PDF, PAGE_PNG };

/* A4, upright, in points; origin at the upper left corner, x right, y down. */
#define PAGE_WIDTH 595.0
#define PAGE_HEIGHT 842.0

/* Starts as all zeros; free with page_free. */
struct page {
    cairo_surface_t *surface;
    cairo_t *cairo;
    struct lettering lettering;
    bool red;
    enum page_format format;
    char *bytes; /* of the PDF, as it grows */
    size_t length, capacity;
};

/* title and date ("2026-02-24T19:41:00Z") go into the PDF; nothing else in it depends on when it is
 * made. ERROR_MEMORY. */
int page_open(struct page *page, enum page_format format, bool red, const char *title,
              const char *date, struct error *err);
void page_free(struct page *page);

/* Writes it all, a file to a temporary one first; the page is finished. ERROR_OUTPUT, ERROR_MEMORY.
 */
int page_save(struct page *page, const struct file_target *target, struct error *err);

/* Sets the colour that the next strokes and fills have. */
void page_ink(struct page *page, enum page_ink ink);

enum page_align { PAGE_LEFT, PAGE_MIDDLE, PAGE_RIGHT };

struct page_type {
    double size; /* points */
    bool strong;
    enum page_ink ink;
    enum page_align align;
};

double page_text_width(struct page *page, const struct page_type *type, const char *text);
/* One line with its baseline at y; returns its width. */
double page_text(struct page *page, const struct page_type *type, double x, double y,
                 const char *text);
/* The same on a rim of paper, for text that stands on lines. */
double page_text_on_rim(struct page *page, const struct page_type *type, double x, double y,
                        const char *text);
/* The same as page_text, as much smaller as makes it fit the width. */
void page_text_fit(struct page *page, const struct page_type *type, double x, double y,
                   double width, const char *text);
/* Wrapped to the width, the first baseline at y; returns the baseline that would come next. The
 * alignment is to the left. */
double page_paragraph(struct page *page, const struct page_type *type, double x, double y,
                      double width, const char *text);

#endif
