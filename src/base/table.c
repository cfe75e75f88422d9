#include "base/table.h"

#include "base/decimal.h"

#include <string.h>
#include <strings.h>

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

/* Moves *start..*end to the next line that says something; false when there is none. */
static bool next_line(struct table *table, const char **start, const char **end)
{
    while (table->next < table->end) {
        const char *line = table->next;
        const char *stop = memchr(line, '\n', (size_t)(table->end - line));
        table->next = stop ? stop + 1 : table->end;
        stop = stop ? stop : table->end;
        table->line_number++;
        while (stop > line && stop[-1] == '\r') {
            stop--;
        }
        const char *p = line;
        while (p < stop && is_blank(*p)) {
            p++;
        }
        if (p < stop && *line != '#') {
            *start = line;
            *end = stop;
            return true;
        }
    }
    return false;
}

static struct table_cell trimmed(const char *start, const char *end)
{
    while (start < end && is_blank(*start)) {
        start++;
    }
    while (end > start && is_blank(end[-1])) {
        end--;
    }
    if (end - start >= 2 && *start == '"' && end[-1] == '"') {
        start++;
        end--;
    }
    return (struct table_cell){start, (size_t)(end - start)};
}

/* End of the cell at p. A delimiter inside double quotes is part of it; a quote that is never
 * closed counts as an ordinary character. */
static const char *cell_end(const char *p, const char *end, char delimiter)
{
    const char *quote = p;
    while (quote < end && *quote != delimiter && is_blank(*quote)) {
        quote++;
    }
    if (quote < end && *quote == '"') {
        for (const char *q = quote + 1; q < end; q++) {
            if (*q != '"') {
                continue;
            }
            if (q + 1 < end && q[1] == '"') {
                q++; /* a doubled quote stands for one */
                continue;
            }
            p = q;
            break;
        }
    }
    while (p < end && *p != delimiter) {
        p++;
    }
    return p;
}

/* Blanks part cells however many there are; quotes hold them together. */
static int split_blanks(struct table_cell *cells, int most, const char *p, const char *end)
{
    int count = 0;
    while (count < most) {
        while (p < end && is_blank(*p)) {
            p++;
        }
        if (p == end) {
            break;
        }
        const char *stop = *p == '"' ? memchr(p + 1, '"', (size_t)(end - p - 1)) : NULL;
        for (stop = stop ? stop : p; stop < end && !is_blank(*stop); stop++) {
        }
        cells[count++] = trimmed(p, stop);
        p = stop;
    }
    return count;
}

int table_split(struct table_cell *cells, int most, const char *line, const char *end,
                char delimiter)
{
    if (delimiter == ' ') {
        return split_blanks(cells, most, line, end);
    }
    int count = 0;
    for (const char *p = line;;) {
        const char *stop = cell_end(p, end, delimiter);
        cells[count++] = trimmed(p, stop);
        if (stop == end || count == most) {
            return count;
        }
        p = stop + 1;
    }
}

/* Cells past the array are left out; the header never fills it, so that shows in the count. */
static int split_line(struct table_cell *cells, const char *p, const char *end, char delimiter)
{
    return table_split(cells, TABLE_MAX_COLUMNS, p, end, delimiter);
}

static bool is_binary(const char *p, const char *end)
{
    for (; p < end; p++) {
        if (((unsigned char)*p < 0x20 && *p != '\t') || *p == 0x7f) {
            return true;
        }
    }
    return false;
}

/* The one that makes the most cells. */
static char choose_delimiter(struct table *table, const char *start, const char *end)
{
    static const char candidates[] = "\t,;|";
    char best = ',';
    int most = 0;
    for (const char *c = candidates; *c; c++) {
        int count = split_line(table->header, start, end, *c);
        if (count > most) {
            most = count;
            best = *c;
        }
    }
    return best;
}

int table_open(struct table *table, const char *bytes, size_t size, const char *name,
               struct error *err)
{
    memset(table, 0, sizeof *table);
    table->name = name;
    table->next = bytes;
    table->end = bytes ? bytes + size : bytes;
    if (size >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) {
        table->next += 3; /* byte order mark */
    }
    const char *start, *end;
    if (!next_line(table, &start, &end)) {
        return error_set(err, ERROR_INPUT, "%s: expected a table with a header row, found no line",
                         name);
    }
    if (is_binary(start, end)) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected a text table with a header row, found binary data",
                         name, table->line_number);
    }
    table->delimiter = choose_delimiter(table, start, end);
    table->columns = split_line(table->header, start, end, table->delimiter);
    if (table->columns < 2) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: expected a header row with at least two columns "
                         "separated by comma, tab, semicolon or bar",
                         name, table->line_number);
    }
    if (table->columns >= TABLE_MAX_COLUMNS) {
        return error_set(err, ERROR_INPUT, "%s: line %ld: expected fewer than %d columns", name,
                         table->line_number, TABLE_MAX_COLUMNS);
    }
    return 0;
}

bool table_next(struct table *table)
{
    const char *start, *end;
    if (!next_line(table, &start, &end)) {
        table->row_cells = 0;
        return false;
    }
    table->row_cells = split_line(table->row, start, end, table->delimiter);
    return true;
}

int table_column(const struct table *table, const char *name)
{
    size_t length = strlen(name);
    for (int i = 0; i < table->columns; i++) {
        const struct table_cell *cell = &table->header[i];
        if (cell->length == length && strncasecmp(cell->start, name, length) == 0) {
            return i;
        }
    }
    return -1;
}

bool table_double(const struct table *table, int column, double *value)
{
    if (column < 0 || column >= table->row_cells) {
        return false;
    }
    const struct table_cell *cell = &table->row[column];
    const char *end = cell->start + cell->length;
    double v;
    if (decimal_read(&v, cell->start, end) != end) {
        return false;
    }
    *value = v;
    return true;
}

void table_text(const struct table *table, int column, char *out, size_t size)
{
    if (size == 0) {
        return;
    }
    size_t length = 0;
    if (column >= 0 && column < table->row_cells) {
        const struct table_cell *cell = &table->row[column];
        length = cell->length < size ? cell->length : size - 1;
        memcpy(out, cell->start, length);
    }
    out[length] = '\0';
}
