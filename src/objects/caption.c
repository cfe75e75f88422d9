#include "objects/caption.h"

#include <stdio.h>
#include <string.h>

/* Copies at most length bytes, as many as fit, and leaves no part of a UTF-8 character. */
static void copy_cut(char *out, size_t size, const char *text, size_t length)
{
    if (length >= size) {
        length = size - 1;
        while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80) {
            length--;
        }
    }
    memcpy(out, text, length);
    out[length] = '\0';
}

void caption_id(char *out, size_t size, const struct object *object)
{
    copy_cut(out, size, object->id, strlen(object->id));
}

void caption_common(char *out, size_t size, const struct object *object)
{
    copy_cut(out, size, object->common_names, strcspn(object->common_names, ";"));
}

void caption_full(char *out, size_t size, const struct object *object)
{
    char common[80], both[300];
    caption_common(common, sizeof common, object);
    bool same = !common[0] || strcmp(common, object->id) == 0;
    snprintf(both, sizeof both, same ? "%.200s" : "%.200s (%s)", object->id, common);
    copy_cut(out, size, both, strlen(both));
}
