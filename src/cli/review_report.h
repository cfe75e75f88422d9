/* cli/review_report.h: what a review says, on a terminal and in files. */
#ifndef ALIDADE_CLI_REVIEW_REPORT_H
#define ALIDADE_CLI_REVIEW_REPORT_H

#include "night/emergence.h"
#include "night/review.h"

#include <stdio.h>

/* The answer first; then what happened and what to do better. emergence: NULL: nothing was
 * stacked. */
void review_report_text(FILE *out, const struct review *review, const struct emergence *emergence);

/* One row a frame in the order of time, RFC 4180. ERROR_OUTPUT. */
int review_report_csv(const char *name, const struct review *review, struct error *err);

/* Names of the frames to stack, one a line; *left_out: names that hold a newline. ERROR_OUTPUT. */
int review_report_list(const char *name, int *left_out, const struct review *review,
                       bool with_doubtful, struct error *err);

#endif
