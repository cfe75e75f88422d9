#define _DEFAULT_SOURCE /* madvise: posix_madvise keeps the pages */

#include "read_stars.h"

#include "base/parallel.h"
#include "base/table.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

enum {
    PIECE_BYTES = 1 << 20, /* about the cost of starting a thread, a hundred times over */
    PIECES_A_THREAD = 4,   /* in one batch */
    MAX_PIECES = 64
};

/* Whole lines that one thread reads. */
struct piece {
    const char *start, *end;
    struct catalogue stars; /* kept from batch to batch */
    struct row_tally tally;
    long lines;
    bool short_of_memory;
};

struct text_reader {
    const struct table *table; /* opened: knows the header */
    const struct star_columns *columns;
    struct piece piece[MAX_PIECES];
};

/* Without branches, and has_control goes by blocks without an early exit: compilers make vector
 * code of that. */
static unsigned char is_control(char c)
{
    unsigned char u = (unsigned char)c;
    return (unsigned char)(((u < 0x20) & (u != '\t') & (u != '\n') & (u != '\r')) | (u == 0x7f));
}

static bool has_control(const char *p, const char *end)
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

/* Whether the row is as wide as the header and free of binary data; else it is counted as bad. */
static bool check_shape(struct piece *piece, const struct table *table, bool look_for_binary)
{
    char reason[80];
    if (look_for_binary && has_control(table->row[0].start, table->next)) {
        row_tally_count_bad(&piece->tally, table->line_number, "binary data");
        return false;
    }
    if (table->row_cells != table->columns) {
        snprintf(reason, sizeof reason, "expected %d cells, found %s%d", table->columns,
                 table->row_cells == TABLE_MAX_COLUMNS ? "at least " : "", table->row_cells);
        row_tally_count_bad(&piece->tally, table->line_number, reason);
        return false;
    }
    return true;
}

static void read_row(struct piece *piece, const struct table *table,
                     const struct star_columns *columns)
{
    struct star_row row;
    for (int part = 0; part < PART_COUNT; part++) {
        int column = columns->column[part];
        row.state[part] = CELL_ABSENT;
        if (column >= 0) {
            star_row_set_text(&row, (enum star_part)part, table->row[column].start,
                              table->row[column].length);
        }
    }
    struct catalogue_star star;
    struct row_fault fault = star_row_judge(&star, &piece->tally, &row, columns);
    const struct table_cell *cell = &table->row[columns->column[fault.part]];
    row_tally_count(&piece->tally, fault, columns, table->line_number, cell->start, cell->length);
    if (!fault.kind && !catalogue_append(&piece->stars, &star, 1)) {
        piece->short_of_memory = true;
    }
}

static void read_piece(int item, void *context)
{
    struct text_reader *reader = context;
    struct piece *piece = &reader->piece[item];
    struct table table = *reader->table;
    bool look_for_binary = has_control(piece->start, piece->end);
    table.next = piece->start;
    table.end = piece->end;
    table.line_number = 0;
    piece->stars.count = 0;
    memset(&piece->tally, 0, sizeof piece->tally);
    while (!piece->short_of_memory && table_next(&table)) {
        if (check_shape(piece, &table, look_for_binary)) {
            read_row(piece, &table, reader->columns);
        }
    }
    piece->lines = table.line_number;
}

/* Cuts the text at line ends; returns how many pieces there are and moves *next behind them. */
static int cut_pieces(struct text_reader *reader, int limit, const char **next, const char *end)
{
    int count = 0;
    for (; count < limit && *next < end; count++) {
        const char *stop = end;
        if (end - *next > PIECE_BYTES) {
            const char *line_end =
                memchr(*next + PIECE_BYTES, '\n', (size_t)(end - *next - PIECE_BYTES));
            stop = line_end ? line_end + 1 : end;
        }
        reader->piece[count].start = *next;
        reader->piece[count].end = stop;
        *next = stop;
    }
    return count;
}

/* Pages before this place are not needed again. */
static void give_back(const struct file_map *map, const char *done)
{
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t size = (size_t)(done - (const char *)map->bytes) / page * page;
    if (size > 0) {
        madvise(map->mapping, size, MADV_DONTNEED);
    }
}

static int collect_pieces(struct catalogue *catalogue, struct row_tally *tally, long *lines,
                          struct text_reader *reader, int count, struct error *err)
{
    for (int i = 0; i < count; i++) {
        struct piece *piece = &reader->piece[i];
        if (piece->short_of_memory ||
            !catalogue_append(catalogue, piece->stars.star, piece->stars.count)) {
            return error_memory(err);
        }
        row_tally_merge(tally, &piece->tally, *lines);
        *lines += piece->lines;
    }
    return 0;
}

static int read_rows(struct catalogue *catalogue, struct row_tally *tally,
                     struct text_reader *reader, const struct file_map *map,
                     const struct read_task *task, struct error *err)
{
    const char *next = reader->table->next, *end = reader->table->end;
    long lines = reader->table->line_number;
    int threads = task->wanted->threads > 0 ? task->wanted->threads : parallel_processors();
    int limit = threads > MAX_PIECES / PIECES_A_THREAD ? MAX_PIECES : threads * PIECES_A_THREAD;
    int code = 0;
    while (next < end && !code) {
        int count = cut_pieces(reader, limit, &next, end);
        parallel_each(count, threads, read_piece, reader);
        code = collect_pieces(catalogue, tally, &lines, reader, count, err);
        give_back(map, next);
        if (task->progress) {
            task->progress(1 - (double)(end - next) / (double)map->size, task->context);
        }
    }
    for (int i = 0; i < MAX_PIECES; i++) {
        catalogue_free(&reader->piece[i].stars);
    }
    return code;
}

static bool cell_is_dashes(const struct table_cell *cell)
{
    for (size_t i = 0; i < cell->length; i++) {
        if (cell->start[i] != '-') {
            return false;
        }
    }
    return true;
}

static bool row_is_dashes(const struct table *table)
{
    bool any = false;
    for (int i = 0; i < table->row_cells; i++) {
        if (!cell_is_dashes(&table->row[i])) {
            return false;
        }
        any = any || table->row[i].length > 0;
    }
    return any;
}

/* Names and units of the columns as terminated text. */
struct heading {
    char *text; /* owned: all of it */
    const char *name[TABLE_MAX_COLUMNS], *unit[TABLE_MAX_COLUMNS];
};

static const char *put_text(char **out, const char *start, size_t length)
{
    char *text = *out;
    memcpy(text, start, length);
    text[length] = '\0';
    *out += length + 1;
    return text;
}

/* units: a table that stands on the row of units, or NULL. */
static int make_heading(struct heading *heading, const struct table *table,
                        const struct table *units, struct error *err)
{
    size_t size = 0;
    for (int i = 0; i < table->columns; i++) {
        size += table->header[i].length + 1 + (units ? units->row[i].length + 1 : 0);
    }
    char *out = heading->text = malloc(size);
    if (!out) {
        return error_memory(err);
    }
    for (int i = 0; i < table->columns; i++) {
        heading->name[i] = put_text(&out, table->header[i].start, table->header[i].length);
        heading->unit[i] = units ? put_text(&out, units->row[i].start, units->row[i].length) : "";
    }
    return 0;
}

static bool row_is_units(const struct table *table, const struct star_columns *columns)
{
    char ra[40], dec[40];
    table_text(table, columns->column[PART_RA], ra, sizeof ra);
    table_text(table, columns->column[PART_DEC], dec, sizeof dec);
    return table->row_cells == table->columns && star_columns_is_unit(ra, PART_RA) &&
           star_columns_is_unit(dec, PART_DEC);
}

static int refuse_bare_numbers(const struct table *table, struct error *err)
{
    for (int i = 0; i < table->columns; i++) {
        struct star_row row;
        star_row_set_text(&row, PART_RA, table->header[i].start, table->header[i].length);
        if (row.state[PART_RA] != CELL_NUMBER && row.state[PART_RA] != CELL_ABSENT) {
            return 0;
        }
    }
    return error_set(err, ERROR_INPUT,
                     "%s: line %ld: expected the names of the columns, found numbers", table->name,
                     table->line_number);
}

static int find_text_columns(struct star_columns *columns, const struct table *table,
                             const struct table *units, const struct read_task *task,
                             struct error *err)
{
    struct heading heading;
    int code = make_heading(&heading, table, units, err);
    if (!code) {
        const struct column_list list = {task->name, table->columns, heading.name, heading.unit};
        code = star_columns_find(columns, &list, task->wanted, err);
    }
    free(heading.text);
    return code;
}

/* Finds the columns and moves the table behind the rows of units and of dashes, if there are. */
static int read_heading(struct star_columns *columns, struct table *table,
                        const struct read_task *task, struct error *err)
{
    int code = refuse_bare_numbers(table, err);
    if (!code) {
        code = find_text_columns(columns, table, NULL, task, err);
    }
    struct table ahead = *table;
    if (code || !table_next(&ahead)) {
        return code;
    }
    if (row_is_units(&ahead, columns)) {
        code = find_text_columns(columns, table, &ahead, task, err);
        *table = ahead;
        if (code || !table_next(&ahead)) {
            return code;
        }
    }
    if (row_is_dashes(&ahead)) {
        *table = ahead;
    }
    return 0;
}

int read_text_stars(struct catalogue *catalogue, struct row_tally *tally,
                    struct star_columns *columns, const struct file_map *map,
                    const struct read_task *task, struct error *err)
{
    struct table table;
    tally->report.rows_are_lines = true;
    int code = table_open(&table, (const char *)map->bytes, map->size, task->name, err);
    if (!code) {
        code = read_heading(columns, &table, task, err);
    }
    if (code) {
        return code;
    }
    struct text_reader *reader = calloc(1, sizeof *reader);
    if (!reader) {
        return error_memory(err);
    }
    reader->table = &table;
    reader->columns = columns;
    code = read_rows(catalogue, tally, reader, map, task, err);
    free(reader);
    return code;
}
