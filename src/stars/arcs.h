/* stars/arcs.h: what stars draw on a frame that was exposed for minutes from a tripod.
 *
 * The sky turns by a degree in four minutes: a star's image is an arc, whose middle is where the
 * star stood in mid-exposure. */
#ifndef ALIDADE_STARS_ARCS_H
#define ALIDADE_STARS_ARCS_H

#include "base/error.h"
#include "image/frame.h"

/* A thin line, nearly straight. Pixels of the displayed picture. */
struct arc {
    double x[2], y[2];         /* its ends, in no order: where its light falls to a half */
    double middle_x, middle_y; /* halfway along it */
    double length;
    double light; /* all of it, in the noise of a smoothed pixel: good for comparing arcs */
};

/* Starts as all zeros; free with arc_list_free. */
struct arc_list {
    struct arc *arc; /* the longest come not first: in the order of rows */
    int count;
    double width, height; /* of the picture */
    double error_px;      /* of an end, about */
};

enum { ARCS_MOST = 3000 };

/* Finds them in the frame's luminance plane, reduced to 2,000 pixels or so a side. What bends by
 * more than a sixth of its length, or is a sixth as wide as long, is none; edges, wires and trails
 * of satellites may be among them, and pieces of arcs. ERROR_MEMORY only. */
int arcs_find(struct arc_list *list, const struct frame *frame, struct error *err);
void arc_list_free(struct arc_list *list);

#endif
