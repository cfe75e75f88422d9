/* draw/pen.h: strokes, shapes and letters that show on any ground. */
#ifndef ALIDADE_DRAW_PEN_H
#define ALIDADE_DRAW_PEN_H

#include "draw/canvas.h"
#include "draw/style.h"

/* Strokes the current path of canvas->cairo, with a rim below, and clears it; width in units. */
void pen_stroke(struct canvas *canvas, enum ink ink, double width);

/* The same without a rim: for what must stay in the background. */
void pen_stroke_faint(struct canvas *canvas, enum ink ink, double width);

/* Fills the current path, on a rim, and clears it. */
void pen_fill(struct canvas *canvas, enum ink ink);

/* The same without a rim: for what lies within a shape that has one. */
void pen_fill_faint(struct canvas *canvas, enum ink ink);

/* The next strokes have gaps: lengths in units; 0 for none. */
void pen_dash(struct canvas *canvas, double stroke, double gap);

/* One line of text at a size in units. */
struct pen_text {
    const char *text; /* UTF-8 */
    double size;      /* in units */
    bool strong;
    double spacing; /* between letters, in units */
};

/* Advance, and height from the highest to the lowest letters; px. */
void pen_measure(struct canvas *canvas, const struct pen_text *text, double *width, double *height);

/* Writes it with the upper left corner of its box at (x, y). Other
 * bytes than UTF-8 show as in lettering.h. */
void pen_write(struct canvas *canvas, const struct pen_text *text, double x, double y,
               enum ink ink);

#endif
