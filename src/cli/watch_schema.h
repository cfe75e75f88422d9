/* cli/watch_schema.h: the JSON object of an alert; frames are those of night/night_frame.h. */
#ifndef ALIDADE_CLI_WATCH_SCHEMA_H
#define ALIDADE_CLI_WATCH_SCHEMA_H

#include "base/schema.h"

extern const struct schema alert_schema;

#endif
