/* cli/aim_depth.h: how a target will show in frames like a solved one, by its own sky and noise. */
#ifndef ALIDADE_CLI_AIM_DEPTH_H
#define ALIDADE_CLI_AIM_DEPTH_H

#include "cli/aim_answer.h"

#include "base/json.h"

#include <stdbool.h>
#include <stdio.h>

/* Whether that was asked for: frames must then be solved with their health. */
bool aim_depth_wanted(const struct aim_settings *settings);

/* Without answer->has_depth, depth_unknown says why. */
void aim_depth_find(struct aim_answer *answer, const struct solved_frame *solved,
                    const struct aim_context *context);

/* What was asked for, in lines under one label; of a frame among many (brief) only the first. */
void aim_depth_report(FILE *out, const struct aim_answer *answer,
                      const struct aim_settings *settings, bool brief);
/* Adds the object "depth". */
void aim_depth_write_json(struct json *json, const struct aim_answer *answer,
                          const struct aim_settings *settings);

#endif
