/* cli/review_json.h: a review for programs. */
#ifndef ALIDADE_CLI_REVIEW_JSON_H
#define ALIDADE_CLI_REVIEW_JSON_H

#include "night/review.h"

#include <stdio.h>

/* The whole review as one line of JSON, of review_schema. ERROR_MEMORY: nothing printed. */
int review_json_write(FILE *out, const struct review *review, struct error *err);

#endif
