/* tripod/lead.h: where to put a target now, so that it is centred on average over a batch. */
#ifndef ALIDADE_TRIPOD_LEAD_H
#define ALIDADE_TRIPOD_LEAD_H

#include "objects/ellipse.h"
#include "tripod/head.h"

#include <stdbool.h>

/* A run of frames with the tripod untouched; seconds after the picture that the advice rests on. */
struct batch {
    double first_s, last_s; /* middles of its first and last exposure */
};

struct lead {
    struct head_move move;
    double right_part, up_part; /* where the target then stands when the batch begins, from the
                                   middle, as parts of the picture's width and height */
    double mean_px;             /* its mean place over the batch, from the middle */
    double spread_px; /* its distance from the middle over the batch, root of the mean square */
};

/* The move, with these axes, that leads to the smallest spread over the batch: the mean place is
 * the middle of the picture. False as stand_pixel. */
bool lead_find(struct lead *lead, const struct stand *stand, const struct head_axes *axes,
               const struct sky_ellipse *target, const struct batch *batch);

/* The same numbers for another move, such as one that centres the target at the start. */
bool lead_of_move(struct lead *lead, const struct stand *stand, const struct head_move *move,
                  const struct sky_ellipse *target, const struct batch *batch);

/* The longest batch from first_s on, a whole number of intervals of cadence_s, that keeps the whole
 * target in the picture without margin_px along each edge; lead is the one for it. Returns its
 * number of frames, at most most; 0 if not even one holds it. */
int lead_longest(struct lead *lead, const struct stand *stand, const struct head_axes *axes,
                 const struct sky_ellipse *target, double margin_px, double first_s,
                 double cadence_s, int most);

#endif
