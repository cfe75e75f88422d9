/* draw/canvas.h: the sheet that is drawn on, for pixels or for a file of lines and letters. */
#ifndef ALIDADE_DRAW_CANVAS_H
#define ALIDADE_DRAW_CANVAS_H

#include "base/error.h"
#include "draw/lettering.h"
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
    struct lettering lettering;
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

/* ERROR_MEMORY, or ERROR_INPUT naming what for, if something could not be drawn; ERROR_OUTPUT if
 * there are no fonts. */
int canvas_check(const struct canvas *canvas, const char *name, struct error *err);

#endif
