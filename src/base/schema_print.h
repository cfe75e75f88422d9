/* base/schema_print.h: the documents that come out of tables of JSON objects. */
#ifndef ALIDADE_BASE_SCHEMA_PRINT_H
#define ALIDADE_BASE_SCHEMA_PRINT_H

#include "base/error.h"
#include "base/schema.h"

#include <stdio.h>

/* JSON Schema, draft 2020-12 (json-schema.org), of tables that end with NULL: each table under
 * "$defs" by its name, and the whole for a line that may be any of them. Units are under "x-unit".
 * ERROR_MEMORY: nothing printed. */
int schema_print_json(FILE *out, const struct schema *const *tables, struct error *err);

/* "number or null", "array of objects", "keep, doubtful, drop" for a word; cut to size. */
void schema_write_type(char *out, size_t size, const struct schema_row *row);

/* Whether an object means this row by its key, and not one of an included table that comes before;
 * false for rows without a key. */
bool schema_counts(const struct schema *object, const struct schema_row *row);

#endif
