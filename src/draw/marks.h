/* draw/marks.h: the shapes that stand for objects and stars. */
#ifndef ALIDADE_DRAW_MARKS_H
#define ALIDADE_DRAW_MARKS_H

#include "draw/canvas.h"
#include "framing/ellipse.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* How an outline is drawn. */
struct mark_line {
    bool open;   /* in four places: only the size is known, not the shape */
    bool dotted; /* a dark nebula */
};

/* Farthest that the outline's points are from its centre at (x, y), px; false if none of them lies
 * in the picture, so that there would be nothing to see. */
bool mark_rim(double *radius, const struct wcs *wcs, const struct sky_ellipse *shape, double x,
              double y);

/* Outline at true place, size and shape: every point goes through the WCS. */
void mark_outline(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape,
                  struct mark_line line);

/* A lozenge around what is too small, or too large, to be outlined. */
void mark_lozenge(struct canvas *canvas, double x, double y);

/* Half the width of a star's mark, px; brighter stars need more room. */
double mark_star_reach(const struct canvas *canvas, double magnitude);

/* Two strokes, left and right of a star, as if it stood on a sighting line. */
void mark_star(struct canvas *canvas, double x, double y, double magnitude);

#endif
