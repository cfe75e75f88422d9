/* A frame as a line of JSON, and back. */
#include "base/text.h"
#include "night/night_frame.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int night_frame_write(struct json *json, const struct night_frame *frame, struct error *err)
{
    schema_write(json, NULL, &night_frame_schema, frame);
    return json->failed ? error_memory(err) : 0;
}

static int hex_digit(char c)
{
    static const char digits[] = "0123456789ABCDEF";
    const char *found = c ? strchr(digits, c) : NULL;
    return found ? (int)(found - digits) : -1;
}

/* From %FF to bytes, in place; false for what is never written. */
static bool unescape_bytes(char *text)
{
    char *out = text;
    for (const char *s = text; *s; s++) {
        if (*s != '%') {
            *out++ = *s;
            continue;
        }
        int high = hex_digit(s[1]), low = high < 0 ? -1 : hex_digit(s[2]);
        if (low < 0 || high * 16 + low == 0) {
            return false;
        }
        *out++ = (char)(high * 16 + low);
        s += 2;
    }
    *out = '\0';
    return true;
}

static int read_name(struct night_frame *frame, const struct json_node *line, struct error *err)
{
    const char *name = json_read_string(line, "frame");
    const char *bytes = json_read_string(line, "frame_bytes");
    if (!name || !name[0]) {
        return ERROR_NO;
    }
    frame->name = text_copy(bytes ? bytes : name);
    if (!frame->name) {
        return error_memory(err);
    }
    if (bytes && (!unescape_bytes(frame->name) || !frame->name[0])) {
        free(frame->name);
        frame->name = text_copy(name);
    }
    return frame->name ? 0 : error_memory(err);
}

/* What the table has read one by one must go together. */
static void settle(struct night_frame *frame)
{
    struct night_target *target = &frame->target;
    bool usable = isfinite(frame->ra_deg) && isfinite(frame->dec_deg) && frame->scale_arcsec > 0;
    frame->read = frame->width > 0 && frame->height > 0;
    frame->unread = frame->read ? CAUSE_CONTENT : frame->unread;
    frame->solved = frame->solved && frame->read && usable;
    frame->health.solved = frame->solved;
    if (!usable) {
        frame->ra_deg = frame->dec_deg = 0;
        memset(&frame->pose, 0, sizeof frame->pose);
    }
    target->has_pixel = isfinite(target->x) && isfinite(target->y);
    target->x = target->has_pixel ? target->x : 0;
    target->y = target->has_pixel ? target->y : 0;
}

/* Whether a text found no memory. */
static bool lacks(const char *text, const struct json_node *object, const char *key)
{
    const char *given = json_read_string(object, key);
    return !text && given && given[0];
}

static int read_rows(struct night_frame *frame, const struct json_node *root, struct error *err)
{
    schema_read(frame, &night_frame_schema, root);
    frame->log_format = schema_read_format(root);
    settle(frame);
    const struct json_node *camera = json_read_member(root, "camera");
    bool short_of_memory = lacks(frame->why, root, "why") ||
                           lacks(frame->says, json_read_member(root, "health"), "says") ||
                           lacks(frame->camera, camera, "model") ||
                           lacks(frame->lens, camera, "lens");
    return short_of_memory ? error_memory(err) : 0;
}

int night_frame_read(struct night_frame *frame, const char *line, size_t length, struct error *err)
{
    struct json_node *root;
    memset(frame, 0, sizeof *frame);
    int code = json_read(&root, line, length, err);
    if (!code) {
        code = json_read_is_object(root) ? read_name(frame, root, err)
                                         : error_set(err, ERROR_INPUT, "not a JSON object");
    }
    if (!code) {
        code = read_rows(frame, root, err);
    }
    json_read_free(root);
    if (code) {
        night_frame_free(frame);
    }
    return code;
}
