/* draw/marks.h: the shapes that stand for objects and stars. */
#ifndef ALIDADE_DRAW_MARKS_H
#define ALIDADE_DRAW_MARKS_H

#include "draw/canvas.h"
#include "objects/ellipse.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* How an outline is drawn. */
struct mark_line {
    bool open;   /* in four places: only the size is known, not the shape */
    bool dotted; /* a dark nebula */
    bool thin;   /* something so large that a strong line would be all one sees */
};

/* How far an outline's points are from its centre, px. */
struct mark_rim {
    double farthest, nearest;
    double turn; /* direction of the farthest, radians from right to down */
};

/* Finds the middle of an outline in the picture, px; false if it has none, or has no pixel there.
 */
bool mark_middle(double *x, double *y, const struct wcs *wcs, const struct sky_ellipse *shape);

/* Measures the outline around its centre at (x, y); false if none of its points lies in the
 * picture, so that there would be nothing to see. */
bool mark_rim(struct mark_rim *rim, const struct wcs *wcs, const struct sky_ellipse *shape,
              double x, double y);

/* Outline at true place, size and shape: every point goes through the WCS. Of a nebula with several
 * levels the brightest is strongest. */
void mark_outline(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape,
                  struct mark_line line);

/* Of an outline the brightest level alone; nothing of an ellipse. */
void mark_core(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape);

/* The same kind of line as a plain ring, for a legend. */
void mark_ring(struct canvas *canvas, double x, double y, double radius, struct mark_line line);

/* What is too small, or too large, to be outlined: one of the shapes below, STYLE_MARK wide to each
 * side. Bright things are lozenges: open for nebulae, doubled for planetary ones, parted for
 * remnants of supernovae, barred for dark nebulae, with a grain for globular clusters. Loose groups
 * are grains, galaxies lenses. */
void mark_object(struct canvas *canvas, enum object_type type, double x, double y);

/* What the shape of a type means: "nebula", "open cluster"; types that share a shape share the
 * word. */
const char *mark_word(enum object_type type);

/* Half the width of a star's mark, px; brighter stars need more room. */
double mark_star_reach(const struct canvas *canvas, double magnitude);

/* How far a star's glare reaches, px. */
double mark_star_glare(const struct canvas *canvas, double magnitude);

/* Two strokes, left and right of a star, as if it stood on a sighting line; or upright, above and
 * below it. */
void mark_star(struct canvas *canvas, double x, double y, double magnitude, bool upright);

/* Sun, Moon or planet: a ring of a radius in px between two upright strokes. */
void mark_body(struct canvas *canvas, double x, double y, double radius);
double mark_body_reach(const struct canvas *canvas, double radius);

/* Where the light on the Moon comes from. */
struct mark_light {
    double lit;   /* share of the disc, 0..1 */
    double angle; /* in the picture towards the Sun: radians from right by down */
};

/* The lit part of the Moon's disc: full where the disc is small, its outline alone where the
 * picture shows the Moon itself. */
void mark_light(struct canvas *canvas, double x, double y, double radius,
                const struct mark_light *light);

#endif
