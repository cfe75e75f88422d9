/* jobs/aim_depth.h: how a target will show in frames like a solved one, by its own sky and noise.
 */
#ifndef ALIDADE_JOBS_AIM_DEPTH_H
#define ALIDADE_JOBS_AIM_DEPTH_H

#include "jobs/aim_answer.h"

#include <stdbool.h>

/* Signal to noise a pixel that is wanted where nothing else is said. */
#define AIM_DEPTH_USUAL_SNR 1.0

/* Whether that was asked for: frames must then be solved with their health. */
bool aim_depth_wanted(const struct aim_wish *wish);

/* Without answer->has_depth, depth_unknown says why. */
void aim_depth_find(struct aim_answer *answer, const struct solved_frame *solved,
                    const struct aim_context *context);

/* The same by what is known of a frame elsewhere: the outlook's wanted is the caller's. Returns why it cannot be told, a static sentence without a full stop; NULL: it can.
 * *electrons: that a value is worth. body may be NULL. */
struct aim_depth_sight {
    const struct solved_frame *solved; /* for its size and WCS */
    const struct frame_health *health;
    const struct rig_body *body;
    const struct object *object;
};
const char *aim_depth_foresee(struct signal_outlook *outlook, double *electrons,
                              const struct aim_depth_sight *sight);

#endif
