/* jobs/aim_depth.h: how a target will show in frames like a solved one, by its own sky and noise.
 */
#ifndef ALIDADE_JOBS_AIM_DEPTH_H
#define ALIDADE_JOBS_AIM_DEPTH_H

#include "jobs/aim_answer.h"

#include <stdbool.h>

/* Whether that was asked for: frames must then be solved with their health. */
bool aim_depth_wanted(const struct aim_wish *wish);

/* Without answer->has_depth, depth_unknown says why. */
void aim_depth_find(struct aim_answer *answer, const struct solved_frame *solved,
                    const struct aim_context *context);

#endif
