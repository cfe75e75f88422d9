/* jobs/path_json.h: where a target will be in coming frames, for programs. */
#ifndef ALIDADE_JOBS_PATH_JSON_H
#define ALIDADE_JOBS_PATH_JSON_H

#include "base/schema.h"
#include "jobs/aim_answer.h"

/* Adds the list "path", empty without a cadence. target: the answer's own, or one beside it. */
void path_json_put(struct json *json, const struct aim_answer *answer,
                   const struct aim_target *target);

#endif
