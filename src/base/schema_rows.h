/* base/schema_rows.h: short forms for tables of base/schema.h whose values are put one by one:
 * `{ROW_NUMBER("x", 2, "px", "to the right"), ROW_SOMETIMES, ROW_OR_NULL}`. */
#ifndef ALIDADE_BASE_SCHEMA_ROWS_H
#define ALIDADE_BASE_SCHEMA_ROWS_H

#include "base/schema.h"

#define ROW_NUMBER(name, digits, of_unit, says)                                                    \
    .key = name, .kind = SCHEMA_NUMBER, .decimals = digits, .unit = of_unit, .text = says
#define ROW_INTEGER(name, says) .key = name, .kind = SCHEMA_INTEGER, .text = says
#define ROW_BOOL(name, says) .key = name, .kind = SCHEMA_BOOL, .text = says
#define ROW_TEXT(name, says) .key = name, .kind = SCHEMA_TEXT, .text = says
#define ROW_TEXTS(name, says) .key = name, .kind = SCHEMA_TEXTS, .text = says
#define ROW_WORD(name, words, word_of, says)                                                       \
    .key = name, .kind = SCHEMA_WORD, .count = words, .word = word_of, .text = says
#define ROW_OBJECT(name, table, says)                                                              \
    .key = name, .kind = SCHEMA_OBJECT, .of = &(table), .text = says
#define ROW_OBJECTS(name, table, says)                                                             \
    .key = name, .kind = SCHEMA_OBJECTS, .of = &(table), .text = says
#define ROW_FORMAT                                                                                 \
    .key = "format", .kind = SCHEMA_VERSION,                                                       \
    .text = "number of the format; a line without it is of format 1"

/* All rows of another table. */
#define ROW_INCLUDE(table) .kind = SCHEMA_INCLUDE, .of = &(table)

#define ROW_SOMETIMES .when = SCHEMA_IF
#define ROW_OR_NULL .nullable = true

#endif
