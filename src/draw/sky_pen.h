/* draw/sky_pen.h: lines that follow the sky, put through a WCS point by point. */
#ifndef ALIDADE_DRAW_SKY_PEN_H
#define ALIDADE_DRAW_SKY_PEN_H

#include "draw/canvas.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* All zeros but for canvas and wcs: the pen is up. */
struct sky_pen {
    struct canvas *canvas;
    const struct wcs *wcs;
    bool down;
    double x, y; /* where it was put last; px */
};

/* The next point begins a new line. */
void sky_pen_lift(struct sky_pen *pen);

/* Goes on to a direction (unit vector, ICRS; or degrees), straight in the picture: points must be
 * close enough together. Where that has no pixel, or one far off the picture, the line is
 * interrupted. */
void sky_pen_to(struct sky_pen *pen, const double v[3]);
void sky_pen_to_radec(struct sky_pen *pen, double ra_deg, double dec_deg);

/* From a to b along a great circle, in steps of at most step_deg; begins a new line at a. */
void sky_pen_arc(struct sky_pen *pen, const double a[3], const double b[3], double step_deg);

#endif
