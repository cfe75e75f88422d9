/* manual/json_keys.h: a JSON object as part of a manual page (mdoc), from its table. */
#ifndef ALIDADE_MANUAL_JSON_KEYS_H
#define ALIDADE_MANUAL_JSON_KEYS_H

#include "base/schema.h"

#include <stdbool.h>
#include <stdio.h>

/* What the table of that name is, and a list of its keys, each with the keys around it, its type,
 * unit and meaning. tables end with NULL; false if none has the name. */
bool json_keys_write(FILE *out, const struct schema *const *tables, const char *name);

#endif
