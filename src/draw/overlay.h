/* draw/overlay.h: what is in a frame, marked and named. */
#ifndef ALIDADE_DRAW_OVERLAY_H
#define ALIDADE_DRAW_OVERLAY_H

#include "base/error.h"
#include "draw/busy.h"
#include "draw/canvas.h"
#include "draw/layers.h"
#include "draw/other_frame.h"
#include "health/foreground.h"
#include "match/trust.h"
#include "objects/field.h"
#include "sky/horizon.h"
#include "sky/wcs.h"

#include <stdbool.h>

struct overlay_request {
    const struct wcs *wcs;
    const struct atlas *atlas;
    const struct field *field; /* of that WCS and atlas */
    layer_set layers;
    const struct foreground *foreground; /* NULL: all of the frame is sky */
    const struct trust *trust;           /* where the solution is proven; NULL: everywhere */
    const struct busy_map *busy;   /* NULL: nothing needs to be kept free */
    const char *title;             /* heads the caption; "" for none */
    const char *facts;             /* date, exposure: closes it; "" for none */
    bool time_known;
    struct utc time;
    const struct place *place; /* NULL: the Earth's centre, up to a degree off for the Moon */
    struct other_frame other;
    struct other_frame planned; /* of LAYER_PLAN */
};

enum { OVERLAY_MOST_NAMES = 300 };

struct overlay_report {
    int objects, stars;                        /* marked and named */
    int bodies;                                /* Sun, Moon, planets */
    bool other_drawn;                          /* the other frame is smaller than this one */
    struct label_box name[OVERLAY_MOST_NAMES]; /* where letters stand: names, caption, and so on */
    int names;
};

/* Draws on the canvas, which must have the size of the WCS's picture. Pixels away from marks, names
 * and their rims stay clear. ERROR_MEMORY only. */
int overlay_draw(struct overlay_report *report, struct canvas *canvas,
                 const struct overlay_request *request, struct error *err);

#endif
