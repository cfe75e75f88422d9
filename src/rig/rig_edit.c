#include "rig/rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct line {
    const char *start;
    size_t length; /* with the line end */
};

static bool next_line(struct line *line, const char **rest, const char *end)
{
    const char *stop = *rest < end ? memchr(*rest, '\n', (size_t)(end - *rest)) : NULL;
    line->start = *rest;
    line->length = (size_t)((stop ? stop + 1 : end) - *rest);
    *rest += line->length;
    return line->length > 0;
}

static struct line trimmed(struct line line)
{
    while (line.length && strchr(" \t\r\n", line.start[line.length - 1])) {
        line.length--;
    }
    while (line.length && strchr(" \t", *line.start)) {
        line.start++;
        line.length--;
    }
    return line;
}

static bool is_text(struct line line, const char *text)
{
    return line.length == strlen(text) && strncasecmp(line.start, text, line.length) == 0;
}

static bool is_heading(struct line line)
{
    return line.length > 0 && *line.start == '[';
}

static bool is_heading_of(struct line line, const char *section)
{
    const char *close = is_heading(line) ? memchr(line.start, ']', line.length) : NULL;
    struct line inside = {line.start + 1, close ? (size_t)(close - line.start) - 1 : 0};
    return close && is_text(trimmed(inside), section);
}

/* Which of the values the line sets, or -1. */
static int value_of(struct line line, const struct rig_value *values, int count)
{
    size_t length = 0;
    while (length < line.length && line.start[length] != '=' && line.start[length] != ':') {
        length++;
    }
    struct line key = trimmed((struct line){line.start, length});
    for (int i = 0; length < line.length && i < count; i++) {
        if (is_text(key, values[i].key)) {
            return i;
        }
    }
    return -1;
}

/* Where a section lies; a name may have several, of which only one has values. */
struct span {
    const char *heading; /* NULL: it is not there */
    const char *end;     /* behind its last line that is neither blank nor a comment, for a comment
                            there may belong to what follows */
};

/* The first section of that name with something in it, else the first one. */
static struct span find_section(const char *text, const char *end, const char *section)
{
    struct span found = {NULL, NULL}, here = {NULL, NULL};
    bool filled = false;
    const char *rest = text;
    struct line line;
    while (!filled && next_line(&line, &rest, end)) {
        struct line bare = trimmed(line);
        if (is_heading(bare)) {
            here = is_heading_of(bare, section) ? (struct span){line.start, rest}
                                                : (struct span){NULL, NULL};
            found = found.heading ? found : here;
        } else if (here.heading && bare.length && !strchr(";#", *bare.start)) {
            filled = true;
            found = here;
            found.end = rest;
        }
    }
    bool inside = filled;
    while (inside && next_line(&line, &rest, end)) {
        struct line bare = trimmed(line);
        inside = !is_heading(bare);
        found.end = inside && bare.length && !strchr(";#", *bare.start) ? rest : found.end;
    }
    return found;
}

static void write_value(FILE *out, const struct rig_value *value)
{
    fprintf(out, "%s = %s\n", value->key, value->text);
}

/* A value and all further ones of its key. */
static void write_same_key(FILE *out, const struct rig_value *values, int count, int first,
                           unsigned char *written)
{
    for (int i = first; i < count; i++) {
        if (strcmp(values[i].key, values[first].key) == 0) {
            write_value(out, &values[i]);
            written[i] = 1;
        }
    }
}

static void write_missing(FILE *out, const struct rig_value *values, int count,
                          const unsigned char *written, bool needs_line_end)
{
    for (int i = 0; i < count; i++) {
        if (!written[i]) {
            fputs(needs_line_end ? "\n" : "", out);
            needs_line_end = false;
            write_value(out, &values[i]);
        }
    }
}

static void write_edited(FILE *out, const char *text, const char *end, const char *section,
                         const struct rig_value *values, int count, unsigned char *written)
{
    struct span place = find_section(text, end, section);
    const char *rest = text;
    bool inside = false, line_ended = true;
    struct line line;
    while (next_line(&line, &rest, end)) {
        struct line bare = trimmed(line);
        inside = is_heading(bare) ? line.start == place.heading : inside;
        int i = inside && !is_heading(bare) ? value_of(bare, values, count) : -1;
        line_ended = line.start[line.length - 1] == '\n' || i >= 0;
        if (i < 0) {
            fwrite(line.start, 1, line.length, out);
        } else if (!written[i]) {
            write_same_key(out, values, count, i, written);
        }
        if (rest == place.end) {
            write_missing(out, values, count, written, !line_ended);
        }
    }
    if (!place.heading) {
        fprintf(out, "%s%s[%s]\n", line_ended ? "" : "\n", text < end ? "\n" : "", section);
        write_missing(out, values, count, written, false);
    }
}

int rig_edit(char **out, size_t *out_length, const char *text, size_t length, const char *section,
             const struct rig_value *values, int count, struct error *err)
{
    unsigned char *written = calloc((size_t)count + 1, 1);
    char *edited = NULL;
    FILE *stream = open_memstream(&edited, out_length);
    bool good = stream && written;
    if (good) {
        write_edited(stream, text, text + length, section, values, count, written);
        good = !ferror(stream);
    }
    if (stream && fclose(stream) != 0) {
        good = false;
    }
    free(written);
    if (!good) {
        free(edited);
        return error_memory(err);
    }
    *out = edited;
    return 0;
}
