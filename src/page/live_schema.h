/* page/live_schema.h: the JSON that the page is given. */
#ifndef ALIDADE_PAGE_LIVE_SCHEMA_H
#define ALIDADE_PAGE_LIVE_SCHEMA_H

#include "base/schema.h"

extern const struct schema live_schema;         /* how the night stands */
extern const struct schema live_drawing_schema; /* a frame as the camera's display shows it */
extern const struct schema live_sight_schema;   /* the answer to a picture that was sent */
extern const struct schema live_others_schema;  /* what else is up */

#endif
