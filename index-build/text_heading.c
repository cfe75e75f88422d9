#include "text_heading.h"

#include "base/file.h"
#include "base/path.h"
#include "base/table.h"
#include "description.h"
#include "known_tables.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    SEARCHED_LINES = 100,         /* in which a row of names may stand */
    MOST_DESCRIPTION = 4 << 20,   /* bytes of a file with descriptions */
    MOST_CELLS = COLUMNS_MOST + 1 /* one more shows that there are too many */
};

static const char delimiters[] = "\t,;|";

static bool is_blank_line(const char *p, const char *end)
{
    while (p < end && (*p == ' ' || *p == '\t' || *p == '\r')) {
        p++;
    }
    return p == end;
}

/* The next line of any kind. */
static bool next_any_line(const char **start, const char **end, const char **next, const char *stop,
                          long *line)
{
    if (*next >= stop) {
        return false;
    }
    const char *found = memchr(*next, '\n', (size_t)(stop - *next));
    *start = *next;
    *end = found ? found : stop;
    *next = found ? found + 1 : stop;
    (*line)++;
    while (*end > *start && (*end)[-1] == '\r') {
        (*end)--;
    }
    return true;
}

bool text_next_line(const char **start, const char **end, const char **next, const char *stop,
                    long *line)
{
    while (next_any_line(start, end, next, stop, line)) {
        if (**start != '#' && !is_blank_line(*start, *end)) {
            return true;
        }
    }
    return false;
}

/* Without branches, and text_is_binary goes by blocks without an early exit: compilers make vector
 * code of that. */
static unsigned char is_control(char c)
{
    unsigned char u = (unsigned char)c;
    return (unsigned char)(((u < 0x20) & (u != '\t') & (u != '\n') & (u != '\r')) | (u == 0x7f));
}

bool text_is_binary(const char *p, const char *end)
{
    for (; end - p >= 64; p += 64) {
        unsigned char found = 0;
        for (int i = 0; i < 64; i++) {
            found |= is_control(p[i]);
        }
        if (found) {
            return true;
        }
    }
    while (p < end && !is_control(*p)) {
        p++;
    }
    return p < end;
}

/* The text being looked at, and a line of it. */
struct look {
    const char *text, *stop; /* the whole beginning of the file */
    const char *next;
    long line;
    const char *start, *end; /* the line now held */
    struct table_cell cell[MOST_CELLS];
    const struct read_task *task;
};

static bool look_next(struct look *look)
{
    return text_next_line(&look->start, &look->end, &look->next, look->stop, &look->line);
}

static int look_split(struct look *look, const char *start, char delimiter)
{
    return table_split(look->cell, MOST_CELLS, start, look->end, delimiter);
}

/* The one that makes the most cells. */
static char choose_delimiter(struct look *look, const char *start)
{
    char best = ',';
    int most = 0;
    for (const char *c = delimiters; *c; c++) {
        int count = look_split(look, start, *c);
        if (count > most) {
            most = count;
            best = *c;
        }
    }
    return most > 1 ? best : ' ';
}

static int list_cells(struct column_list *list, const struct table_cell *cell, int count,
                      struct error *err)
{
    int code = column_list_clear(list, err);
    for (int i = 0; i < count && !code; i++) {
        code = column_list_add(list, cell[i].start, cell[i].length, "", 0, err);
    }
    return code;
}

/* The columns as the user names them. A first line whose right ascension is no angle holds names
 * and is passed over. */
static int use_given(struct text_heading *heading, struct star_columns *columns, struct look *look,
                     struct error *err)
{
    int code = column_list_clear(&heading->list, err);
    code = code ? code : column_list_parse(&heading->list, look->task->wanted->columns, err);
    code = code ? code : star_columns_find(columns, &heading->list, look->task->wanted, err);
    if (code) {
        return code;
    }
    const char *before = look->next;
    if (!look_next(look)) {
        return error_set(err, ERROR_INPUT, "%s: the table has no rows", look->task->name);
    }
    int wanted = heading->list.count, most = 0;
    for (const char *c = "\t,;| "; *c && most != wanted; c++) {
        int count = look_split(look, look->start, *c);
        if (count == wanted || count > most) {
            most = count;
            heading->delimiter = *c;
        }
    }
    if (most < wanted) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected %d cells as --columns says, found %d",
                         look->task->name, look->line, wanted, most);
    }
    heading->more_cells = most > wanted;
    look_split(look, look->start, heading->delimiter);
    struct star_row row;
    const struct table_cell *ra = &look->cell[columns->column[PART_RA]];
    star_row_set_text(&row, PART_RA, ra->start, ra->length);
    bool names = row.state[PART_RA] == CELL_WRONG;
    heading->rows = names ? look->next : before;
    heading->lines = names ? look->line : 0;
    return 0;
}

/* Reads a whole file with descriptions into memory that the caller frees. */
static int load_text(char **text, size_t *size, const char *name, struct error *err)
{
    FILE *file = file_stream_open(name, size, err);
    if (!file) {
        return ERROR_INPUT;
    }
    *size = *size < MOST_DESCRIPTION ? *size : MOST_DESCRIPTION;
    *text = malloc(*size);
    int code = *text ? 0 : error_memory(err);
    if (!code) {
        *size = fread(*text, 1, *size, file);
    }
    fclose(file);
    return code;
}

static int use_description(struct text_heading *heading, struct star_columns *columns,
                           struct look *look, const char *text, size_t size, const char *source,
                           const char **end, struct error *err)
{
    int code = description_read(&heading->list, end, text, size, source, look->task->name, err);
    code = code ? code : star_columns_find(columns, &heading->list, look->task->wanted, err);
    heading->delimiter = 0;
    heading->rows = look->next;
    heading->lines = 0;
    return code;
}

static int use_described_in(struct text_heading *heading, struct star_columns *columns,
                            struct look *look, const char *source, struct error *err)
{
    char *text = NULL;
    size_t size = 0;
    int code = load_text(&text, &size, source, err);
    if (!code) {
        code = use_description(heading, columns, look, text, size, source, NULL, err);
    }
    free(text);
    return code;
}

/* Whether a file with descriptions lies beside the catalogue and names it. */
static bool find_beside(char *path, size_t size, const char *name)
{
    static const char *const usual[] = {"ReadMe", "README", "ReadMe.txt", "README.txt",
                                        "readme.txt"};
    int folder = (int)(path_base(name) - name);
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++) {
        char *text = NULL;
        size_t length = 0;
        int needed = snprintf(path, size, "%.*s%s", folder, name, usual[i]);
        if (needed < 0 || (size_t)needed >= size || access(path, R_OK) != 0 ||
            load_text(&text, &length, path, NULL)) {
            continue;
        }
        bool named = description_names(text, length, name);
        free(text);
        if (named) {
            return true;
        }
    }
    return false;
}

static bool is_rule(const char *start, const char *end)
{
    int marks = 0;
    for (const char *p = start; p < end; p++) {
        if (*p != '-' && *p != '=') {
            return false;
        }
        marks++;
    }
    return marks >= 20;
}

/* Journals put the description on top of the table itself; the rows begin below the last rule. */
static int use_described_above(struct text_heading *heading, struct star_columns *columns,
                               struct look *look, struct error *err)
{
    const char *end = NULL;
    int code = use_description(heading, columns, look, look->text,
                               (size_t)(look->stop - look->text), look->task->name, &end, err);
    if (code) {
        return code;
    }
    const char *start, *stop;
    heading->rows = end;
    for (const char *next = look->text;
         next_any_line(&start, &stop, &next, look->stop, &look->line);) {
        if (next <= end || is_rule(start, stop)) {
            heading->rows = next > end ? next : end;
            heading->lines = look->line;
        }
    }
    return 0;
}

static int use_known(struct text_heading *heading, struct star_columns *columns, struct look *look,
                     const struct known_lines *known, struct error *err)
{
    struct error cause = {0};
    int code = column_list_clear(&heading->list, err);
    if (!code && known->columns) {
        code = column_list_parse(&heading->list, known->columns, err);
    } else if (!code) {
        code = description_read(&heading->list, NULL, known->description,
                                strlen(known->description), known->title, NULL, err);
    }
    if (code) {
        return code;
    }
    heading->list.epoch = known->epoch;
    heading->delimiter = known->delimiter;
    heading->joined_numbers = true;
    heading->rows = look->text;
    code = star_columns_find(columns, &heading->list, look->task->wanted, &cause);
    columns->known = known->title;
    return code ? error_set(err, code, "%s", cause.text) : 0;
}

/* The unit that a comment like "# - {name: ra, unit: deg, datatype: float64}" gives a column, as
 * tables in the form of enhanced comma-separated values have it. */
static void read_unit_comment(struct column_list *list, const char *start, const char *end)
{
    char text[400], name[72], unit[40] = "";
    size_t length = (size_t)(end - start);
    length = length < sizeof text - 1 ? length : sizeof text - 1;
    memcpy(text, start, length);
    text[length] = '\0';
    const char *at = strstr(text, "{name: ");
    const char *told = strstr(text, "unit: ");
    if (!at || !told || sscanf(at + 7, "%71[^,}]", name) != 1 ||
        sscanf(told + 6, "%39[^,}]", unit) != 1) {
        return;
    }
    int column = column_list_find(list, name);
    if (column >= 0) {
        column_text(list->column[column].unit, sizeof list->column->unit, unit, strlen(unit));
    }
}

static void read_unit_comments(struct column_list *list, const struct look *look)
{
    const char *next = look->text, *start, *end;
    long line = 0;
    while (line < look->line && next_any_line(&start, &end, &next, look->stop, &line)) {
        if (*start == '#') {
            read_unit_comment(list, start, end);
        }
    }
}

static bool cell_is_dashes(const struct table_cell *cell)
{
    for (size_t i = 0; i < cell->length; i++) {
        if (cell->start[i] != '-' && cell->start[i] != '+') {
            return false;
        }
    }
    return true;
}

static bool row_is_dashes(const struct look *look, int count)
{
    bool any = false;
    for (int i = 0; i < count; i++) {
        if (!cell_is_dashes(&look->cell[i])) {
            return false;
        }
        any = any || look->cell[i].length > 0;
    }
    return any;
}

static bool row_is_units(const struct look *look, int count, const struct text_heading *heading,
                         const struct star_columns *columns)
{
    char text[2][40];
    if (count != heading->list.count) {
        return false;
    }
    for (int i = 0; i < 2; i++) {
        const struct table_cell *cell = &look->cell[columns->column[PART_RA + i]];
        column_text(text[i], sizeof text[i], cell->start, cell->length);
    }
    return star_columns_is_unit(text[0], PART_RA) && star_columns_is_unit(text[1], PART_DEC);
}

static void take_units(struct column_list *list, const struct look *look)
{
    for (int i = 0; i < list->count; i++) {
        column_text(list->column[i].unit, sizeof list->column[i].unit, look->cell[i].start,
                    look->cell[i].length);
    }
}

/* Moves behind the rows of units and of dashes, if there are; look stands on the row of names. */
static int read_below(struct text_heading *heading, struct star_columns *columns, struct look *look,
                      struct error *err)
{
    heading->rows = look->next;
    heading->lines = look->line;
    if (!look_next(look)) {
        return 0;
    }
    int count = look_split(look, look->start, heading->delimiter);
    if (row_is_units(look, count, heading, columns)) {
        take_units(&heading->list, look);
        int code = star_columns_find(columns, &heading->list, look->task->wanted, err);
        heading->rows = look->next;
        heading->lines = look->line;
        if (code || !look_next(look)) {
            return code;
        }
        count = look_split(look, look->start, heading->delimiter);
    }
    if (row_is_dashes(look, count)) {
        heading->rows = look->next;
        heading->lines = look->line;
    }
    return 0;
}

/* How many cells the next row has; -1 if there is none. */
static int count_next(const struct look *look, char delimiter)
{
    static const int none = -1;
    struct look *ahead = malloc(sizeof *ahead);
    if (!ahead) {
        return none;
    }
    *ahead = *look;
    int count = look_next(ahead) ? look_split(ahead, ahead->start, delimiter) : none;
    free(ahead);
    return count;
}

/* Whether the text from start to the end of the line is a row of names; *err tells why not. strict:
 * the row below must be as wide, lest words pass for names. */
static bool is_names(struct text_heading *heading, struct star_columns *columns, struct look *look,
                     const char *start, char delimiter, bool strict, struct error *err)
{
    int count = look_split(look, start, delimiter);
    if (count < 2 || list_cells(&heading->list, look->cell, count, err) ||
        star_columns_find(columns, &heading->list, look->task->wanted, err)) {
        return false;
    }
    heading->delimiter = delimiter;
    return !strict || count_next(look, delimiter) == count;
}

/* Tries one line with the delimiter that suits it best, then with blanks. */
static bool try_line(struct text_heading *heading, struct star_columns *columns, struct look *look,
                     const char *start, bool strict)
{
    struct error why = {0};
    char best = choose_delimiter(look, start);
    return is_names(heading, columns, look, start, best, strict || best == ' ', &why) ||
           (best != ' ' && is_names(heading, columns, look, start, ' ', true, &why));
}

/* A row of names among the first lines. */
static bool find_names(struct text_heading *heading, struct star_columns *columns,
                       struct look *look)
{
    for (int i = 0; i < SEARCHED_LINES && look_next(look); i++) {
        if (try_line(heading, columns, look, look->start, i > 0)) {
            return true;
        }
    }
    return false;
}

/* A row of names in a comment, the last before the rows. */
static bool find_commented_names(struct text_heading *heading, struct star_columns *columns,
                                 struct look *look)
{
    for (int i = 0; i < SEARCHED_LINES &&
                    next_any_line(&look->start, &look->end, &look->next, look->stop, &look->line);
         i++) {
        const char *start = look->start;
        while (start < look->end && *start == '#') {
            start++;
        }
        if (start > look->start && try_line(heading, columns, look, start, true)) {
            return true;
        }
    }
    return false;
}

/* Two numbers in a row are no names. */
static bool is_numbers(const struct look *look, int count)
{
    int numbers = 0;
    for (int i = 0; i < count; i++) {
        struct star_row row;
        star_row_set_text(&row, PART_RA, look->cell[i].start, look->cell[i].length);
        numbers += row.state[PART_RA] == CELL_NUMBER || row.state[PART_RA] == CELL_DEGREES;
    }
    return numbers >= 2;
}

/* Says what the first line lacks. */
static int refuse_names(struct text_heading *heading, struct star_columns *columns,
                        struct look *look, struct error *err)
{
    const char *name = look->task->name;
    if (!look_next(look)) {
        return error_set(err, ERROR_INPUT, "%s: expected a table with a header row, found no line",
                         name);
    }
    char best = choose_delimiter(look, look->start);
    int count = look_split(look, look->start, best);
    if (count > COLUMNS_MOST) {
        return error_set(err, ERROR_INPUT, "%s: line %ld: expected at most %d columns", name,
                         look->line, COLUMNS_MOST);
    }
    if (is_numbers(look, count)) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected the names of the columns, found numbers; name "
                         "those that you know with --columns, or their places with --describe",
                         name, look->line);
    }
    if (count < 2) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected a header row with at least two columns "
                         "separated by comma, tab, semicolon, bar or blanks",
                         name, look->line);
    }
    struct error why = {0};
    if (is_names(heading, columns, look, look->start, best, false, &why)) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: %d columns are named, but the row below "
                         "has %d cells",
                         name, look->line, count, count_next(look, best));
    }
    return error_set(err, why.code ? why.code : ERROR_INPUT, "%s", why.text);
}

static int use_names(struct text_heading *heading, struct star_columns *columns, struct look *look,
                     struct error *err)
{
    const char *first = look->next;
    bool found = find_names(heading, columns, look);
    if (!found) {
        look->next = first;
        look->line = 0;
        found = find_commented_names(heading, columns, look);
    }
    if (!found) {
        look->next = first;
        look->line = 0;
        return refuse_names(heading, columns, look, err);
    }
    read_unit_comments(&heading->list, look);
    int code = star_columns_find(columns, &heading->list, look->task->wanted, err);
    heading->joined_numbers = columns->known && strcmp(columns->known, "UCAC4") == 0;
    return code ? code : read_below(heading, columns, look, err);
}

static int read_heading(struct text_heading *heading, struct star_columns *columns,
                        struct look *look, struct error *err)
{
    const struct catalogue_columns *wanted = look->task->wanted;
    char beside[4096];
    if (wanted->columns) {
        return use_given(heading, columns, look, err);
    }
    if (wanted->describe) {
        return use_described_in(heading, columns, look, wanted->describe, err);
    }
    const char *first = look->next;
    if (!look_next(look)) {
        return error_set(err, ERROR_INPUT, "%s: expected a table with a header row, found no line",
                         look->task->name);
    }
    if (text_is_binary(look->start, look->end)) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected a text table with a header row, found binary data",
                         look->task->name, look->line);
    }
    const struct known_lines *known = known_by_line(look->start, look->end);
    look->next = first;
    look->line = 0;
    if (find_beside(beside, sizeof beside, look->task->name)) {
        return use_described_in(heading, columns, look, beside, err);
    }
    if (known) {
        return use_known(heading, columns, look, known, err);
    }
    if (description_is_there(look->text, (size_t)(look->stop - look->text))) {
        return use_described_above(heading, columns, look, err);
    }
    return use_names(heading, columns, look, err);
}

int text_heading_read(struct text_heading *heading, struct star_columns *columns, const char *text,
                      size_t size, const struct read_task *task, struct error *err)
{
    struct look *look = calloc(1, sizeof *look);
    if (!look) {
        return error_memory(err);
    }
    bool marked = size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0; /* byte order mark */
    look->text = look->next = marked ? text + 3 : text;
    look->stop = text + size;
    look->task = task;
    heading->list.table = task->name;
    int code = read_heading(heading, columns, look, err);
    free(look);
    return code;
}

void text_heading_free(struct text_heading *heading)
{
    column_list_free(&heading->list);
}
