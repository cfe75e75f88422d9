#include "description.h"

#include "base/path.h"

#include <fnmatch.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* Wider lines than any table has; larger numbers are damage. */
enum { MOST_BYTES = 1000000 };

static const char *const headings[] = {"byte-by-byte description of file",
                                       "byte-per-byte description of file"};

struct line {
    const char *start, *end;
};

/* A walk through the lines of a text. */
struct walk {
    const char *next, *end;
    long number; /* of the line now held, from 1 */
    struct line line;
};

static bool walk_next(struct walk *walk)
{
    if (walk->next >= walk->end) {
        return false;
    }
    const char *stop = memchr(walk->next, '\n', (size_t)(walk->end - walk->next));
    walk->line.start = walk->next;
    walk->line.end = stop ? stop : walk->end;
    walk->next = stop ? stop + 1 : walk->end;
    walk->number++;
    while (walk->line.end > walk->line.start && walk->line.end[-1] == '\r') {
        walk->line.end--;
    }
    return true;
}

static bool is_title(struct line line)
{
    while (line.start < line.end && (*line.start == ' ' || *line.start == '#')) {
        line.start++;
    }
    for (size_t i = 0; i < sizeof headings / sizeof *headings; i++) {
        size_t length = strlen(headings[i]);
        if ((size_t)(line.end - line.start) >= length &&
            strncasecmp(line.start, headings[i], length) == 0) {
            return true;
        }
    }
    return false;
}

static bool is_rule(struct line line)
{
    if (line.end - line.start < 10) {
        return false;
    }
    for (const char *p = line.start; p < line.end; p++) {
        if (*p != '-' && *p != '=' && !(*p == ' ' && line.end - line.start > 40)) {
            return false;
        }
    }
    return true;
}

/* The file's own name, without the ending that tells that it is packed. */
static void plain_name(char *out, size_t size, const char *table)
{
    snprintf(out, size, "%s", path_base(table));
    size_t length = strlen(out);
    if (length > 3 && strcasecmp(out + length - 3, ".gz") == 0) {
        out[length - 3] = '\0';
    }
}

/* Whether a title names the table, be it by "tab*.dat" or "tab[12].dat". More stars than any title
 * has take long to try. */
static bool title_names(struct line line, const char *table)
{
    char name[256];
    plain_name(name, sizeof name, table);
    const char *p = memchr(line.start, ':', (size_t)(line.end - line.start));
    p = p ? p + 1 : line.end;
    while (p < line.end) {
        const char *word = p;
        char pattern[256];
        int stars = 0;
        while (p < line.end && *p != ' ' && *p != ',' && *p != '\t') {
            stars += *p++ == '*';
        }
        snprintf(pattern, sizeof pattern, "%.*s", (int)(p - word < 255 ? p - word : 255), word);
        if (p > word && stars <= 2 && fnmatch(pattern, name, 0) == 0) {
            return true;
        }
        p++;
    }
    return false;
}

bool description_names(const char *text, size_t size, const char *table)
{
    struct walk walk = {.next = text, .end = text + size};
    while (walk_next(&walk)) {
        if (is_title(walk.line) && title_names(walk.line, table)) {
            return true;
        }
    }
    return false;
}

bool description_is_there(const char *text, size_t size)
{
    struct walk walk = {.next = text, .end = text + size};
    while (walk_next(&walk)) {
        if (is_title(walk.line)) {
            return true;
        }
    }
    return false;
}

/* Moves to the title that is for the table, else to the only one. */
static int find_title(struct walk *walk, const char *source, const char *table, struct error *err)
{
    struct walk look = *walk, only = {0};
    int titles = 0;
    while (walk_next(&look)) {
        if (!is_title(look.line)) {
            continue;
        }
        titles++;
        only = look;
        if (table && title_names(look.line, table)) {
            *walk = look;
            return 0;
        }
    }
    if (titles == 0) {
        return error_set(
            err, ERROR_INPUT,
            "%s: expected a line \"Byte-by-byte Description of file: ...\", found none", source);
    }
    if (titles > 1) {
        return error_set(err, ERROR_INPUT, "%s: describes %d files, but none of them is %.100s",
                         source, titles, table ? path_base(table) : "the one wanted");
    }
    *walk = only;
    return 0;
}

static const char *skip_blanks(const char *p, const char *end)
{
    while (p < end && (*p == ' ' || *p == '\t')) {
        p++;
    }
    return p;
}

static const char *skip_word(const char *p, const char *end)
{
    while (p < end && *p != ' ' && *p != '\t') {
        p++;
    }
    return p;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static const char *read_place(int *value, const char *p, const char *end)
{
    int v = 0;
    const char *start = p;
    for (; p < end && is_digit(*p) && v <= MOST_BYTES; p++) {
        v = v * 10 + (*p - '0');
    }
    *value = v;
    return p > start && v >= 1 && v <= MOST_BYTES ? p : NULL;
}

/* "12- 22", "12-22" or "84"; NULL if the line does not begin so. */
static const char *read_bytes(int *first, int *last, const char *p, const char *end)
{
    p = read_place(first, skip_blanks(p, end), end);
    if (!p) {
        return NULL;
    }
    *last = *first;
    const char *dash = skip_blanks(p, end);
    if (dash < end && *dash == '-') {
        p = read_place(last, skip_blanks(dash + 1, end), end);
    }
    return p && p < end && (*p == ' ' || *p == '\t') ? p : NULL;
}

/* "F12.8", "I4", "A10", "E9.3", "2I3". */
static bool is_format(const char *word, const char *end)
{
    while (word < end && is_digit(*word)) {
        word++;
    }
    if (word >= end || !strchr("AIFEDLX", *word)) {
        return false;
    }
    for (word++; word < end; word++) {
        if (!is_digit(*word) && *word != '.') {
            return false;
        }
    }
    return true;
}

/* "?=-99.9 ..." and "[0/24]?=99 ..." tell what stands for a missing value. */
static void find_null(struct column *column, const char *p, const char *end)
{
    if (p < end && *p == '[') {
        const char *close = memchr(p, ']', (size_t)(end - p));
        p = close ? skip_blanks(close + 1, end) : end;
    }
    while (p < end && (*p == '*' || *p == '!')) {
        p++;
    }
    if (end - p > 2 && p[0] == '?' && p[1] == '=') {
        column_text(column->null, sizeof column->null, p + 2, (size_t)(skip_word(p, end) - p - 2));
    }
}

static bool is_nothing(const char *word, const char *end)
{
    for (; word < end; word++) {
        if (*word != '-') {
            return false;
        }
    }
    return true;
}

/* 1: a row was read; 0: none begins in this line; -1: the row makes no sense. */
static int read_row(struct column_list *list, struct line line, struct error *err)
{
    int first, last;
    const char *p = read_bytes(&first, &last, line.start, line.end);
    if (!p) {
        return 0;
    }
    const char *format = skip_blanks(p, line.end), *format_end = skip_word(format, line.end);
    if (!is_format(format, format_end)) {
        return 0; /* a number in the explanation of the row above */
    }
    const char *unit = skip_blanks(format_end, line.end), *unit_end = skip_word(unit, line.end);
    const char *label = skip_blanks(unit_end, line.end), *label_end = skip_word(label, line.end);
    if (label == label_end || last < first) {
        return -1;
    }
    bool no_unit = is_nothing(unit, unit_end);
    if (column_list_add(list, label, (size_t)(label_end - label), unit,
                        no_unit ? 0 : (size_t)(unit_end - unit), err)) {
        return -1;
    }
    struct column *column = &list->column[list->count - 1];
    column->first = first - 1;
    column->last = last - 1;
    find_null(column, skip_blanks(label_end, line.end), line.end);
    return 1;
}

int description_read(struct column_list *list, const char **end, const char *text, size_t size,
                     const char *source, const char *table, struct error *err)
{
    struct walk walk = {.next = text, .end = text + size};
    int code = column_list_clear(list, err);
    code = code ? code : find_title(&walk, source, table, err);
    if (code) {
        return code;
    }
    int rules = 0; /* one above the head, one below it, one at the end */
    while (rules < 3 && walk_next(&walk) && !is_title(walk.line)) {
        struct error cause = {0};
        rules += is_rule(walk.line);
        if (rules < 2 || is_rule(walk.line)) {
            continue;
        }
        if (read_row(list, walk.line, &cause) < 0) {
            return cause.code ? error_set(err, cause.code, "%s", cause.text)
                              : error_set(err, ERROR_INPUT,
                                          "%s: line %ld: expected bytes, format, unit and label of "
                                          "a column",
                                          source, walk.number);
        }
    }
    if (list->count == 0) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected rows of bytes, format, unit and label below the "
                         "description's head, found none",
                         source, walk.number);
    }
    if (end) {
        *end = walk.next;
    }
    return 0;
}
