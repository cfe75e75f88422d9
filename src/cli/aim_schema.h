/* cli/aim_schema.h: the JSON objects of aim. */
#ifndef ALIDADE_CLI_AIM_SCHEMA_H
#define ALIDADE_CLI_AIM_SCHEMA_H

#include "base/schema.h"

extern const struct schema aim_schema;             /* a frame */
extern const struct schema aim_ahead_schema;       /* its keys of drift, lead and smear */
extern const struct schema aim_series_schema;      /* frames together */
extern const struct schema learned_head_schema;    /* what --learn-head found */
extern const struct schema learned_skyline_schema; /* and --learn-skyline */

/* "no", "perhaps", "yes", of enum aim_room. */
const char *aim_room_key(int room);

#endif
