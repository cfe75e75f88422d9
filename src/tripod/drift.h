/* tripod/drift.h: how a target moves through the picture of a tripod that nobody touches. */
#ifndef ALIDADE_TRIPOD_DRIFT_H
#define ALIDADE_TRIPOD_DRIFT_H

#include "objects/ellipse.h"
#include "tripod/stand.h"

#include <stdbool.h>

/* Of the picture as displayed. */
enum frame_edge { EDGE_LEFT, EDGE_RIGHT, EDGE_TOP, EDGE_BOTTOM };

/* "left", "right", "top", "bottom" */
const char *frame_edge_word(enum frame_edge edge);

struct drift {
    double right_px_s, up_px_s; /* how fast its centre moves in the picture */
    bool inside;                /* the whole target is in the safe part at the start */
    bool changes;               /* it will leave the safe part, or be wholly in it */
    double change_s;            /* when, after the exposure's middle */
    enum frame_edge edge;       /* that it leaves or comes through */
};

/* The safe part is the picture without margin_px along each edge. turn: how the camera has been
 * turned since the picture (NULL: not). Begins from_s after the picture and looks most_s ahead.
 * False as stand_pixel, also if the target is behind the camera. */
bool drift_measure(struct drift *drift, const struct stand *stand, double turn[3][3],
                   const struct sky_ellipse *target, double margin_px, double from_s,
                   double most_s);

/* Whether the whole target is in the safe part later_s after the picture. */
bool drift_is_inside(const struct stand *stand, double turn[3][3], const struct sky_ellipse *target,
                     double margin_px, double later_s);

#endif
