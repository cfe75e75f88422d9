/* match/index_schema.h: what is told of an index as JSON. */
#ifndef ALIDADE_MATCH_INDEX_SCHEMA_H
#define ALIDADE_MATCH_INDEX_SCHEMA_H

#include "base/schema.h"

/* Values are put one by one: some take a look at all stars. */
extern const struct schema index_schema;

#endif
