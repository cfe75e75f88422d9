#include "night/night_list.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

void night_list_free(struct night_list *list)
{
    for (int i = 0; i < list->count; i++) {
        night_frame_free(&list->frame[i]);
    }
    free(list->frame);
    free(list->copies.first);
    memset(list, 0, sizeof *list);
}

static bool make_room(struct night_list *list)
{
    if (list->count < list->capacity) {
        return true;
    }
    int capacity = list->capacity < 64 ? 64 : list->capacity + list->capacity / 2;
    struct night_frame *frame = realloc(list->frame, (size_t)capacity * sizeof *frame);
    if (frame) {
        list->frame = frame;
        list->capacity = capacity;
    }
    return frame != NULL;
}

int night_list_add(struct night_list *list, struct night_frame *frame, struct error *err)
{
    if (!make_room(list)) {
        night_frame_free(frame);
        return error_memory(err);
    }
    list->frame[list->count++] = *frame;
    memset(frame, 0, sizeof *frame);
    return 0;
}

/* Keys of a later format may mean something else. */
static int refuse_newer(struct night_frame *frame, const char *name, struct error *err)
{
    int format = frame->log_format;
    night_frame_free(frame);
    return error_set(err, ERROR_INPUT,
                     "%s: its lines are of format %d, and this version of the program reads "
                     "formats up to %d: read it with a later one",
                     name, format, SCHEMA_FORMAT);
}

static int add_line(struct night_list *list, struct night_lines *lines, const char *name,
                    const char *line, size_t length, struct error *err)
{
    struct night_frame frame;
    struct error why = {0};
    int code = night_frame_read(&frame, line, length, &why);
    switch (code) {
    case 0:
        if (frame.log_format > SCHEMA_FORMAT) {
            return refuse_newer(&frame, name, err);
        }
        lines->frames++;
        return night_list_add(list, &frame, err);
    case ERROR_NO:
        lines->others++;
        return 0;
    case ERROR_INPUT:
        lines->first_broken =
            lines->broken++ ? lines->first_broken : lines->frames + lines->others + 1;
        return 0;
    default:
        return error_set(err, code, "%s", why.text);
    }
}

static int read_lines(struct night_list *list, struct night_lines *lines, const char *name,
                      FILE *stream, struct error *err)
{
    char *line = NULL;
    size_t size = 0;
    ssize_t length;
    int code = 0;
    while (!code && (length = getline(&line, &size, stream)) > 0) {
        bool whole = line[length - 1] == '\n';
        lines->torn = !whole;
        if (length > (whole ? 1 : 0)) {
            code = add_line(list, lines, name, line, (size_t)length, err);
        }
    }
    free(line);
    return code;
}

int night_list_read(struct night_list *list, struct night_lines *lines, const char *name,
                    struct error *err)
{
    memset(lines, 0, sizeof *lines);
    FILE *stream = fopen(name, "rb");
    if (!stream) {
        return error_set(err, ERROR_INPUT, "%s: cannot be opened: %s", name, strerror(errno));
    }
    int code = read_lines(list, lines, name, stream, err);
    if (!code && ferror(stream)) {
        code = error_set(err, ERROR_INPUT, "%s: cannot be read to its end", name);
    }
    fclose(stream);
    return code;
}
