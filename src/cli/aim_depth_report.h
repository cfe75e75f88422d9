/* cli/aim_depth_report.h: how a target will show, for people and for programs. */
#ifndef ALIDADE_CLI_AIM_DEPTH_REPORT_H
#define ALIDADE_CLI_AIM_DEPTH_REPORT_H

#include "base/json.h"
#include "jobs/aim_depth.h"

#include <stdbool.h>
#include <stdio.h>

/* What was asked for, in lines under one label; of a frame among many (brief) only the first. */
void aim_depth_report(FILE *out, const struct aim_answer *answer, const struct aim_wish *wish,
                      bool brief);

/* Adds the object "depth". */
void aim_depth_write_json(struct json *json, const struct aim_answer *answer,
                          const struct aim_wish *wish);

#endif
