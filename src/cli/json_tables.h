/* cli/json_tables.h: all JSON objects of the program. */
#ifndef ALIDADE_CLI_JSON_TABLES_H
#define ALIDADE_CLI_JSON_TABLES_H

#include "base/schema.h"

/* Ends with NULL; for base/schema_print.h. */
extern const struct schema *const json_tables[];

#endif
