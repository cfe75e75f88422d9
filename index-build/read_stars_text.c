#include "read_stars.h"

#include "base/parallel.h"
#include "base/table.h"
#include "text_heading.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    PIECE_BYTES = 1 << 20, /* about the cost of starting a thread, a hundred times over */
    PIECES_A_THREAD = 4,   /* in one batch */
    MAX_PIECES = 64,
    MOST_CELLS = COLUMNS_MOST + 1, /* one more shows that there are too many */
    MOST_LINE = 256 << 20          /* bytes */
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
    const struct text_heading *heading;
    const struct star_columns *columns;
    int pieces;
    struct piece piece[];
};

/* A line being read, cut into cells; for fixed places only when asked for one. */
struct text_row {
    const char *start, *end;
    long line;
    int cells;
    struct table_cell cell[MOST_CELLS];
};

static struct table_cell fixed_cell(const struct text_row *row, const struct column *column)
{
    const char *p = row->start, *end = row->end;
    end = end - p > column->last ? p + column->last + 1 : end;
    p = end - p > column->first ? p + column->first : end;
    while (p < end && (*p == ' ' || *p == '\t')) {
        p++;
    }
    while (end > p && (end[-1] == ' ' || end[-1] == '\t')) {
        end--;
    }
    return (struct table_cell){p, (size_t)(end - p)};
}

static struct table_cell find_cell(const struct text_row *row, const struct text_heading *heading,
                                   int column)
{
    if (column < 0) {
        return (struct table_cell){row->start, 0};
    }
    return heading->delimiter ? row->cell[column] : fixed_cell(row, &heading->list.column[column]);
}

/* Whether the row is as wide as the header and free of binary data; else it is counted as bad. */
static bool check_shape(struct piece *piece, struct text_row *row,
                        const struct text_heading *heading, bool look_for_binary)
{
    char reason[80];
    if (look_for_binary && text_is_binary(row->start, row->end)) {
        row_tally_count_bad(&piece->tally, row->line, "binary data");
        return false;
    }
    if (!heading->delimiter) {
        return true;
    }
    int wanted = heading->list.count;
    row->cells = table_split(row->cell, heading->more_cells ? wanted : MOST_CELLS, row->start,
                             row->end, heading->delimiter);
    if (row->cells != wanted) {
        snprintf(reason, sizeof reason, "expected %d cells, found %s%d", wanted,
                 row->cells == MOST_CELLS ? "at least " : "", row->cells);
        row_tally_count_bad(&piece->tally, row->line, reason);
        return false;
    }
    return true;
}

/* "451-000001" becomes 451000001. */
static void set_joined_number(struct star_row *row, struct table_cell cell)
{
    char digits[24];
    size_t length = 0;
    for (size_t i = 0; i < cell.length && length < sizeof digits; i++) {
        if (cell.start[i] != '-' && cell.start[i] != ' ') {
            digits[length++] = cell.start[i];
        }
    }
    star_row_set_text(row, PART_ID, digits, length);
}

static void read_row(struct piece *piece, const struct text_row *text,
                     const struct text_heading *heading, const struct star_columns *columns)
{
    struct star_row row = {0};
    for (int part = 0; part < PART_COUNT; part++) {
        struct table_cell cell = find_cell(text, heading, columns->column[part]);
        if (columns->column[part] < 0) {
            row.value[part] = 0;
            row.state[part] = CELL_ABSENT;
        } else if (part == PART_ID && heading->joined_numbers) {
            set_joined_number(&row, cell);
        } else {
            star_row_set_text(&row, (enum star_part)part, cell.start, cell.length);
        }
    }
    struct catalogue_star star;
    struct row_fault fault = star_row_judge(&star, &piece->tally, &row, columns);
    struct table_cell cell = find_cell(text, heading, columns->column[fault.part]);
    row_tally_count(&piece->tally, fault, columns, text->line, cell.start, cell.length);
    if (!fault.kind && !catalogue_append(&piece->stars, &star, 1)) {
        piece->short_of_memory = true;
    }
}

static void read_piece(int item, void *context)
{
    struct text_reader *reader = context;
    struct piece *piece = &reader->piece[item];
    struct text_row row = {.line = 0};
    const char *next = piece->start;
    bool look_for_binary = text_is_binary(piece->start, piece->end);
    piece->stars.count = 0;
    memset(&piece->tally, 0, sizeof piece->tally);
    while (!piece->short_of_memory &&
           text_next_line(&row.start, &row.end, &next, piece->end, &row.line)) {
        if (check_shape(piece, &row, reader->heading, look_for_binary)) {
            read_row(piece, &row, reader->heading, reader->columns);
        }
    }
    piece->lines = row.line;
}

/* Cuts the text at line ends; returns how many pieces there are and moves *next behind them. */
static int cut_pieces(struct text_reader *reader, const char **next, const char *end)
{
    int count = 0;
    for (; count < reader->pieces && *next < end; count++) {
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

/* What of the file is in memory: whole lines, and behind them the beginning of one more. */
struct window {
    char *bytes;
    size_t room, size; /* allocated, filled */
    size_t whole;      /* up to the end of the last whole line */
    bool at_end;
};

/* Drops the whole lines that were used and reads on until there is a whole line again. */
static int window_fill(struct window *window, struct input *input, long line, struct error *err)
{
    memmove(window->bytes, window->bytes + window->whole, window->size - window->whole);
    window->size -= window->whole;
    window->whole = 0;
    while (window->whole == 0 && !window->at_end) {
        if (window->size == window->room) {
            char *larger =
                window->room < MOST_LINE ? realloc(window->bytes, 2 * window->room) : NULL;
            if (!larger) {
                return error_set(err, ERROR_INPUT, "%s: line %ld is longer than %zu MB",
                                 input->name, line + 1, window->room >> 20);
            }
            window->bytes = larger;
            window->room *= 2;
        }
        size_t got, room = window->room - window->size;
        int code = input_read(input, window->bytes + window->size, room, &got, err);
        if (code) {
            return code;
        }
        size_t searched = window->size;
        window->size += got;
        window->at_end = got < room;
        window->whole = window->size;
        while (!window->at_end && window->whole > searched &&
               window->bytes[window->whole - 1] != '\n') {
            window->whole--;
        }
        window->whole = window->whole > searched || window->at_end ? window->whole : 0;
    }
    return 0;
}

static int read_rows(struct catalogue *catalogue, struct row_tally *tally,
                     struct text_reader *reader, struct window *window, struct input *input,
                     const struct read_task *task, int threads, struct error *err)
{
    const char *next = reader->heading->rows;
    long lines = reader->heading->lines;
    int code = 0;
    while (!code) {
        const char *end = window->bytes + window->whole;
        while (next < end && !code) {
            int count = cut_pieces(reader, &next, end);
            parallel_each(count, threads, read_piece, reader);
            code = collect_pieces(catalogue, tally, &lines, reader, count, err);
        }
        if (task->progress) {
            task->progress(input_share(input), task->context);
        }
        if (code || window->at_end) {
            break;
        }
        code = window_fill(window, input, lines, err);
        next = window->bytes;
    }
    for (int i = 0; i < reader->pieces; i++) {
        catalogue_free(&reader->piece[i].stars);
    }
    return code;
}

static int read_text(struct catalogue *catalogue, struct row_tally *tally,
                     struct star_columns *columns, struct window *window, struct input *input,
                     const struct read_task *task, struct error *err)
{
    struct text_heading heading = {0};
    int threads = task->wanted->threads > 0 ? task->wanted->threads : parallel_processors();
    int pieces = threads > MAX_PIECES / PIECES_A_THREAD ? MAX_PIECES : threads * PIECES_A_THREAD;
    window->room = (size_t)pieces * PIECE_BYTES;
    if (!input->packed && input->size < window->room) {
        window->room = input->size + 1; /* so that the end shows */
        pieces = (int)(input->size / PIECE_BYTES) + 1;
    }
    struct text_reader *reader =
        calloc(1, sizeof *reader + (size_t)pieces * sizeof reader->piece[0]);
    window->bytes = malloc(window->room);
    int code = reader && window->bytes ? 0 : error_memory(err);
    code = code ? code : window_fill(window, input, 0, err);
    code =
        code ? code : text_heading_read(&heading, columns, window->bytes, window->whole, task, err);
    if (!code) {
        reader->pieces = pieces;
        reader->heading = &heading;
        reader->columns = columns;
        code = read_rows(catalogue, tally, reader, window, input, task, threads, err);
    }
    text_heading_free(&heading);
    free(reader);
    return code;
}

int read_text_stars(struct catalogue *catalogue, struct row_tally *tally,
                    struct star_columns *columns, struct input *input, const struct read_task *task,
                    struct error *err)
{
    struct window window = {0};
    tally->report.rows_are_lines = true;
    int code = read_text(catalogue, tally, columns, &window, input, task, err);
    free(window.bytes);
    return code;
}
