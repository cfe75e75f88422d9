/* web/stand-ins/sheet.h: what a drawing of the page is made of, between pen and file. */
#ifndef ALIDADE_WEB_STAND_INS_SHEET_H
#define ALIDADE_WEB_STAND_INS_SHEET_H

#include <cairo.h>
#include <stdbool.h>
#include <stdio.h>

enum { SHEET_DASHES = 4, SHEET_STATES = 8, SHEET_ALPHAS = 16 };

struct sheet_colour {
    double red, green, blue, alpha; /* 0..1 */
};

/* A letter of SVG's paths: M, L, C or Z; points in units of the sheet, y down. */
struct sheet_step {
    char kind;
    double at[6];
};

struct sheet_path {
    struct sheet_step *step;
    int count, room;
    bool begun; /* there is a current point */
};

struct sheet_style {
    struct sheet_colour colour;
    double scale, x, y; /* from user's lengths to the sheet's: scale times, then moved */
    double width;       /* user's */
    double dash[SHEET_DASHES];
    int dashes;
    bool even_odd;
    int clips; /* how many were set since the state was saved */
};

/* A line of text with its baseline beginning at (x, y) of the sheet. */
struct sheet_text {
    const char *text; /* UTF-8 without control characters */
    double x, y, size, spacing;
    bool strong;
    struct sheet_colour fill, rim;
    double rim_width; /* 0: none */
};

struct sheet_pen {
    cairo_surface_t *sheet;
    struct sheet_style state[SHEET_STATES];
    int depth;
    struct sheet_path path;
    const cairo_surface_t *picture; /* what paint puts there, if not a colour */
    cairo_status_t status;
};

/* What a kind of file makes of it. */
struct sheet_kind {
    cairo_surface_type_t type;
    void (*path)(cairo_surface_t *sheet, const struct sheet_path *path,
                 const struct sheet_style *style, bool stroke);
    void (*clip)(cairo_surface_t *sheet, const struct sheet_path *path);
    void (*unclip)(cairo_surface_t *sheet);
    void (*paint)(cairo_surface_t *sheet, const struct sheet_colour *colour);
    void (*picture)(cairo_surface_t *sheet, const cairo_surface_t *picture, double x, double y,
                    double scale);
    void (*text)(cairo_surface_t *sheet, const struct sheet_text *text);
    void (*finish)(cairo_surface_t *sheet, FILE *out); /* writes the whole file */
};

struct sheet {
    const struct sheet_kind *kind; /* NULL: only a picture for others */
    double width, height;
    FILE *body;
    char *bytes;
    size_t size;
    int clips;
    double alpha[SHEET_ALPHAS];
    int alphas;
    char title[200];
    cairo_write_func_t write;
    void *context;
    unsigned char *pixels; /* of a sheet of cells */
    cairo_status_t status;
    bool finished;
    /* a file that stands for the pixels of a picture */
    const char *mime;
    const unsigned char *mime_bytes;
    unsigned long mime_length;
    cairo_destroy_func_t destroy;
    void *closure;
};

/* A sheet whose body is kept in memory until it is finished. */
cairo_surface_t *sheet_open(const struct sheet_kind *kind, cairo_write_func_t write, void *context,
                            double width, double height);

/* Writes it where the pen's transform puts it; x, y and lengths in user's units. */
void sheet_write_text(cairo_t *pen, const struct sheet_text *text);

#endif
