/* cli/plan_schema.h: the JSON objects of plan. */
#ifndef ALIDADE_CLI_PLAN_SCHEMA_H
#define ALIDADE_CLI_PLAN_SCHEMA_H

#include "base/schema.h"

extern const struct schema plan_schema;        /* a night's targets */
extern const struct schema plan_target_schema; /* one target */

#endif
