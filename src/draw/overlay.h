/* draw/overlay.h: a picture with what is in it marked and named. */
#ifndef ALIDADE_DRAW_OVERLAY_H
#define ALIDADE_DRAW_OVERLAY_H

#include "base/error.h"
#include "draw/canvas.h"
#include "framing/field.h"
#include "sky/wcs.h"

struct overlay_report {
    int objects, stars; /* marked and named */
};

/* Draws on the canvas, which must have the size of the WCS's picture. title heads the caption, ""
 * for none. Pixels away from marks, names and their dark rims stay as they are. ERROR_MEMORY only.
 */
int overlay_draw(struct overlay_report *report, struct canvas *canvas, const struct wcs *wcs,
                 const struct field *field, const char *title, struct error *err);

#endif
