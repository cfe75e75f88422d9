/* cli/review_json.h: a review for programs. */
#ifndef ALIDADE_CLI_REVIEW_JSON_H
#define ALIDADE_CLI_REVIEW_JSON_H

#include "night/emergence.h"
#include "night/review.h"

#include <stdio.h>

/* The whole review as one line of JSON, of review_schema. emergence: NULL: nothing was stacked.
 * ERROR_MEMORY: nothing printed. */
int review_json_write(FILE *out, const struct review *review, const struct emergence *emergence,
                      struct error *err);

#endif
