/* cli/aim_report.h: what aim found, for people and for programs. */
#ifndef ALIDADE_CLI_AIM_REPORT_H
#define ALIDADE_CLI_AIM_REPORT_H

#include "cli/solve_report.h"
#include "framing/aim.h"

#include <stdio.h>

/* Of a solved frame. */
void aim_report_text(FILE *out, const struct solved_frame *solved, const struct aim_target *target,
                     const struct aim *aim, bool verbose);

/* One JSON object on one line; aim is not looked at if there is no solution. ERROR_MEMORY only. */
int aim_report_json(FILE *out, const struct solved_frame *solved, const struct aim_target *target,
                    const struct aim *aim, struct error *err);

#endif
