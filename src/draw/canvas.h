/* draw/canvas.h: what is drawn on: strokes and letters that show on any ground. */
#ifndef ALIDADE_DRAW_CANVAS_H
#define ALIDADE_DRAW_CANVAS_H

#include "base/error.h"
#include "draw/style.h"
#include "draw/theme.h"

#include <cairo.h>
#include <stdbool.h>
#include <stdint.h>

enum { CANVAS_LARGEST_SIDE = 32767 };

/* Coordinates are those of the picture: px, x right, y down, centre of the top-left pixel (0, 0).
 * Starts as all zeros; free with canvas_free. */
struct canvas {
    cairo_surface_t *surface;
    cairo_t *cairo;
    const struct theme *theme;
    int width, height;
    double unit; /* px, see draw/style.h */
    bool scaled; /* a pixel is not one of the surface, so that lines may be as thin as they are */
    bool quiet;  /* nothing is drawn: for finding out where things would go */
};

/* A clear sheet of pixels of a picture's size. ERROR_INPUT if a side is beyond CANVAS_LARGEST_SIDE;
 * ERROR_MEMORY. */
int canvas_open(struct canvas *canvas, int width, int height, const struct theme *theme,
                struct error *err);

/* The same on a surface of any kind, one of its units a pixel; it belongs to the canvas from then
 * on, also when this fails. */
int canvas_open_on(struct canvas *canvas, cairo_surface_t *surface, int width, int height,
                   const struct theme *theme, struct error *err);
/* Makes a pixel so many units of the surface. */
void canvas_scale(struct canvas *canvas, double units);
void canvas_free(struct canvas *canvas);

/* One row of a sheet of pixels, 0xAARRGGBB with colours multiplied by alpha; the canvas must not
 * be drawn on any more. NULL for other surfaces. */
const uint32_t *canvas_row(struct canvas *canvas, int y);

/* ERROR_MEMORY, or ERROR_INPUT naming what for, if something could not be drawn. */
int canvas_check(const struct canvas *canvas, const char *name, struct error *err);

/* Strokes the current path of canvas->cairo, with a rim below, and clears it; width in units. */
void canvas_stroke(struct canvas *canvas, enum ink ink, double width);

/* The same without a rim: for what must stay in the background. */
void canvas_stroke_faint(struct canvas *canvas, enum ink ink, double width);

/* Fills the current path, on a rim, and clears it. */
void canvas_fill(struct canvas *canvas, enum ink ink);

/* The same without a rim: for what lies within a shape that has one. */
void canvas_fill_faint(struct canvas *canvas, enum ink ink);

/* The next strokes have gaps: lengths in units; 0 for none. */
void canvas_dash(struct canvas *canvas, double stroke, double gap);

/* One line of text at a size in units. */
struct canvas_text {
    const char *text; /* UTF-8 */
    double size;      /* in units */
    bool strong;
    double spacing; /* between letters, in units */
};

/* Advance, and height from the highest to the lowest letters; px. */
void canvas_measure(struct canvas *canvas, const struct canvas_text *text, double *width,
                    double *height);

/* Writes it with the upper left corner of its box at (x, y). Bytes that are not UTF-8 show nothing.
 */
void canvas_write(struct canvas *canvas, const struct canvas_text *text, double x, double y,
                  enum ink ink);

#endif
