#include "column_list.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* Room for more columns: few tables have many. */
static int make_room(struct column_list *list, struct error *err)
{
    int room = list->room ? 2 * list->room : 32;
    struct column *grown = realloc(list->column, (size_t)room * sizeof *grown);
    if (!grown) {
        return error_memory(err);
    }
    list->column = grown;
    list->room = room;
    return 0;
}

int column_list_clear(struct column_list *list, struct error *err)
{
    list->count = 0;
    return list->column ? 0 : make_room(list, err);
}

void column_text(char *out, size_t size, const char *text, size_t length)
{
    while (length > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        length--;
    }
    while (length > 0 && (text[length - 1] == ' ' || text[length - 1] == '\t')) {
        length--;
    }
    length = length < size - 1 ? length : size - 1;
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        out[i] = c < ' ' || c == 0x7f ? '?' : text[i];
    }
    out[length] = '\0';
}

void column_make_plain(char plain[PLAIN_SIZE], const char *text)
{
    size_t length = 0;
    for (; *text && length < PLAIN_SIZE - 1; text++) {
        unsigned char c = (unsigned char)*text;
        if (c >= 'A' && c <= 'Z') {
            plain[length++] = (char)(c + ('a' - 'A'));
        } else if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) {
            plain[length++] = (char)c;
        }
    }
    plain[length] = '\0';
}

int column_list_add(struct column_list *list, const char *name, size_t name_length,
                    const char *unit, size_t unit_length, struct error *err)
{
    if (list->count >= COLUMNS_MOST) {
        return error_set(err, ERROR_INPUT, "%s: expected at most %d columns, found more",
                         list->table, COLUMNS_MOST);
    }
    if (list->count == list->room && make_room(list, err)) {
        return ERROR_MEMORY;
    }
    struct column *column = &list->column[list->count++];
    memset(column, 0, sizeof *column);
    column_text(column->name, sizeof column->name, name, name_length);
    column_make_plain(column->plain, column->name);
    column_text(column->unit, sizeof column->unit, unit, unit_length);
    return 0;
}

int column_list_parse(struct column_list *list, const char *text, struct error *err)
{
    for (const char *p = text; p;) {
        const char *comma = strchr(p, ',');
        size_t length = comma ? (size_t)(comma - p) : strlen(p);
        const char *colon = memchr(p, ':', length);
        size_t name = colon ? (size_t)(colon - p) : length;
        if (name == 1 && *p == '-') {
            name = 0;
        }
        if (column_list_add(list, p, name, colon ? colon + 1 : "",
                            colon ? length - (size_t)(colon - p) - 1 : 0, err)) {
            return error_set(err, ERROR_USAGE, "--columns names more than %d columns",
                             COLUMNS_MOST);
        }
        p = comma ? comma + 1 : NULL;
    }
    return 0;
}

int column_list_find(const struct column_list *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        if (strcasecmp(list->column[i].name, name) == 0) {
            return i;
        }
    }
    return -1;
}

void column_list_free(struct column_list *list)
{
    free(list->column);
    list->column = NULL;
    list->room = 0;
    list->count = 0;
}
