/* sky/stamp_json.h: times as texts of JSON. */
#ifndef ALIDADE_SKY_STAMP_JSON_H
#define ALIDADE_SKY_STAMP_JSON_H

#include "base/schema.h"
#include "sky/time.h"

/* As time_stamp_write has it; "" if it is not known. */
void stamp_json_put(struct json *json, const char *key, const struct time_stamp *stamp);
/* Its inverse; not known if the object has no such text. */
void stamp_json_take(struct time_stamp *stamp, const struct json_node *object, const char *key);

#endif
