/* plan/star_steps.h: the way to a target in frames, for heads without scales. */
#ifndef ALIDADE_PLAN_STAR_STEPS_H
#define ALIDADE_PLAN_STAR_STEPS_H

#include "plan/approach.h"

#include <stdbool.h>

/* The field as the camera is held: across is level. */
struct step_frame {
    double across_deg, along_deg;
};

/* A move of a level camera that pans, then tilts, in widths and heights of its frame as it is held:
 * so many to the right, so many up. */
struct frame_move {
    double right_widths, up_heights;
};

/* Between two stops of an approach. */
void frame_move_find(struct frame_move *move, const struct approach_stop *from,
                     const struct approach_stop *to, const struct step_frame *frame);

enum { STAR_STEPS = 12 };

/* The star before and this one share a frame. */
struct star_step {
    const struct object *star;     /* borrowed; NULL: the target */
    struct frame_move from_before; /* where this one is from that one, -0.8..0.8 */
};

struct star_steps {
    struct star_step step[STAR_STEPS]; /* after the start, the target last */
    int steps;                         /* 0: there is no such way of so few steps */
};

/* From the start of an approach to its target by stars of magnitude 6 or brighter, each of which
 * fits into one frame with the one before: as few as can be. As seen through the air; stars below 5
 * degrees or behind the skyline (NULL: none) are left out. Nothing for an approach without a start.
 */
void star_steps_find(struct star_steps *steps, const struct approach *approach,
                     const struct objects *objects, const struct place *place,
                     const struct skyline *skyline, struct utc utc, const struct step_frame *frame);

#endif
