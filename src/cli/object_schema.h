/* cli/object_schema.h: the JSON objects of the command object. */
#ifndef ALIDADE_CLI_OBJECT_SCHEMA_H
#define ALIDADE_CLI_OBJECT_SCHEMA_H

#include "base/schema.h"

extern const struct schema object_schema;      /* an object */
extern const struct schema object_list_schema; /* what is in a frame */

#endif
