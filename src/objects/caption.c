#include "objects/caption.h"

#include "base/utf8.h"

#include <stdio.h>
#include <string.h>

void caption_id(char *out, size_t size, const struct object *object)
{
    utf8_copy(out, size, object->id);
}

void caption_common(char *out, size_t size, const struct object *object)
{
    utf8_copy(out, size, object->usual_name ? object->usual_name : "");
}

void caption_full(char *out, size_t size, const struct object *object)
{
    char common[80], both[300];
    caption_common(common, sizeof common, object);
    bool same = !common[0] || strcmp(common, object->id) == 0;
    snprintf(both, sizeof both, same ? "%.200s" : "%.200s (%s)", object->id, common);
    utf8_copy(out, size, both);
}
