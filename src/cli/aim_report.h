/* cli/aim_report.h: what aim found, for people and for programs. */
#ifndef ALIDADE_CLI_AIM_REPORT_H
#define ALIDADE_CLI_AIM_REPORT_H

#include "cli/solve_report.h"
#include "jobs/aim_answer.h"

#include <stdio.h>

/* Of a solved frame: the move, where the target is, and what else there is to know; of one of many
 * (brief) only the first two and what is unusual; verbose adds hints, search and times. */
void aim_report_text(FILE *out, const struct solved_frame *solved, const struct aim_answer *answer,
                     const struct aim_context *context, bool brief, bool verbose);

/* When to re-centre, and how to aim ahead. */
void aim_report_next(FILE *out, const struct aim_answer *answer);
/* After how many frames stars smear, and how frames are counted. */
void aim_report_counts(FILE *out, const struct aim_answer *answer,
                       const struct aim_context *context);

/* One JSON object on one line; answer is not looked at if there is no solution. ERROR_MEMORY only.
 */
int aim_report_json(FILE *out, const struct solved_frame *solved, const struct aim_answer *answer,
                    const struct aim_context *context, struct error *err);

/* The keys of drift, lead and smear; error: of the answer's advice. */
void aim_report_add_ahead(struct json *json, const struct aim_answer *answer,
                          const struct advice_error *error, const struct aim_target *target);

#endif
