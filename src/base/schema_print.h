/* base/schema_print.h: the documents that come out of tables of JSON objects. */
#ifndef ALIDADE_BASE_SCHEMA_PRINT_H
#define ALIDADE_BASE_SCHEMA_PRINT_H

#include "base/error.h"
#include "base/schema.h"

#include <stdio.h>

/* A list of tables ends with NULL. */

/* JSON Schema, draft 2020-12 (json-schema.org): each table under "$defs" by its name, and the whole
 * for a line that may be any of them. Units are under "x-unit". ERROR_MEMORY: nothing printed. */
int schema_print_json(FILE *out, const struct schema *const *tables, struct error *err);

/* One line a key, parted by tabs: table, key with the keys around it ("health.trail.length_px",
 * "[]" after that of an array), type, unit, when it is there, what it says. A heading comes first;
 * before the keys of a table one line with its name, empty columns, and what it is. */
void schema_print_keys(FILE *out, const struct schema *const *tables);

#endif
