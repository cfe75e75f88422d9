/* draw/canvas.h: a picture to draw on, and strokes and letters that show on any ground. */
#ifndef ALIDADE_DRAW_CANVAS_H
#define ALIDADE_DRAW_CANVAS_H

#include "base/error.h"
#include "draw/style.h"
#include "image/frame.h"

#include <cairo.h>
#include <stdbool.h>

enum { CANVAS_LARGEST_SIDE = 32767 };

/* Coordinates are those of the picture: px, x right, y down, centre of the top-left pixel (0, 0).
 * Starts as all zeros; free with canvas_free. */
struct canvas {
    cairo_surface_t *surface;
    cairo_t *cairo;
    int width, height;
    double unit; /* px, see draw/style.h */
    bool quiet;  /* nothing is drawn: for finding out where things would go */
};

/* Copies the picture. ERROR_INPUT if a side is beyond CANVAS_LARGEST_SIDE; ERROR_MEMORY. */
int canvas_open(struct canvas *canvas, const struct picture *picture, struct error *err);
void canvas_free(struct canvas *canvas);

/* Strokes the current path of canvas->cairo, with a dark rim below, and clears it; width in units.
 */
void canvas_stroke(struct canvas *canvas, const struct colour *colour, double width);

/* One line of text at a size in units. */
struct canvas_text {
    const char *text; /* UTF-8 */
    double size;      /* in units */
    bool strong;
};

/* Advance, and height from the highest to the lowest letters; px. */
void canvas_measure(struct canvas *canvas, const struct canvas_text *text, double *width,
                    double *height);

/* Writes it with the upper left corner of its box at (x, y). Bytes that are not UTF-8 show nothing.
 */
void canvas_write(struct canvas *canvas, const struct canvas_text *text, double x, double y,
                  const struct colour *colour);

/* Writes a PNG file; to a temporary file, then renamed. ERROR_OUTPUT, ERROR_MEMORY;
 * ERROR_INPUT if something could not be drawn. */
int canvas_save_png(struct canvas *canvas, const char *name, struct error *err);

#endif
