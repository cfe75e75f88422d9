#include "sky/stamp_json.h"

void stamp_json_put(struct json *json, const char *key, const struct time_stamp *stamp)
{
    char text[40];
    time_stamp_write(text, sizeof text, stamp);
    schema_put_text(json, key, text);
}

void stamp_json_take(struct time_stamp *stamp, const struct json_node *object, const char *key)
{
    const char *text = json_read_string(object, key);
    time_stamp_read(stamp, text ? text : "");
}
