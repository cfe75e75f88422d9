/* page/live_move.h: how far the camera was turned, of what was advised. */
#ifndef ALIDADE_PAGE_LIVE_MOVE_H
#define ALIDADE_PAGE_LIVE_MOVE_H

#include "jobs/aim_answer.h"

#include <stdbool.h>
#include <stddef.h>

enum { LIVE_MOVE_SIZE = 120 };

/* Where the camera stood, and the move that was advised then. All zeros: none was. */
struct live_move {
    bool known;
    double time_s; /* of that frame, as in struct night_step */
    struct stand stand;
    struct head_axes axes;
    struct head_move asked;
    double least_pan_deg, least_tilt_deg; /* what is less than that is none */
};

void live_move_ask(struct live_move *move, const struct aim_answer *answer, double time_s);

/* How far it was turned, about the axes of the advice, by a later frame's place on the sky. */
struct live_moved {
    double pan_deg, tilt_deg;
};
bool live_move_measure(struct live_moved *moved, const struct live_move *move,
                       const struct wcs *wcs, double time_s);

/* "moved 3.1° right of 3.4; 0.3 to go"; with two axes "moved 3.1° right of 3.4, 0.3 to go; 0.90° up
 * of 0.91, done". "" if nothing was asked. UTF-8, cut to size. */
void live_move_write(char *out, size_t size, const struct live_move *move,
                     const struct live_moved *moved);

#endif
