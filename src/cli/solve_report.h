/* cli/solve_report.h: the answer of a solve, for people and for programs. */
#ifndef ALIDADE_CLI_SOLVE_REPORT_H
#define ALIDADE_CLI_SOLVE_REPORT_H

#include "base/schema.h"
#include "jobs/job_solve.h"
#include "night/night_frame.h"
#include "objects/field.h"

#include <stdio.h>

/* A few lines, the answer first. atlas may be NULL: then nothing is said of what lies there.
 * verbose adds times and hints. ERROR_MEMORY only. */
int solve_report_text(FILE *out, const struct solved_frame *solved, const struct atlas *atlas,
                      bool verbose, struct error *err);

/* "NAME: no solution: why". */
void solve_report_failure(FILE *out, const struct solved_frame *solved);

/* Where the hints came from, the search, the times: what --verbose adds. */
void solve_report_details(FILE *out, const struct solved_frame *solved);

/* One JSON object on one line. ERROR_MEMORY only. */
int solve_report_json(FILE *out, const struct solved_frame *solved, struct error *err);

/* What a command says of a frame without a solution that was only to be learned from: ERROR_NO, or
 * ERROR_MEMORY; as JSON, its object. */
int solve_report_unsolved(FILE *out, const struct solved_frame *solved, bool as_json,
                          struct error *err);

/* Opens an object of a table that includes night_frame_head_schema, with its keys; for a frame that
 * could not be read, why is the sentence of err and unread its cause. err is NULL if it could be read. */
void solve_report_open(struct json *json, const struct schema *schema,
                       const struct solved_frame *solved, const struct error *err);

/* Adds the other keys of a frame that could be read: where it points if it is solved, stars, time
 * and so on. */
void solve_report_add(struct json *json, const struct solved_frame *solved);

/* What a command says of a frame that could not be read: a line in its place among the others. */
int solve_report_unread(FILE *out, const struct solved_frame *solved, bool as_json,
                        const struct error *why);

#endif
