/* cli/review_schema.h: the JSON object of a review. */
#ifndef ALIDADE_CLI_REVIEW_SCHEMA_H
#define ALIDADE_CLI_REVIEW_SCHEMA_H

#include "base/schema.h"

extern const struct schema review_schema;

#endif
