/* base/table.h: delimited text with a header row, read line by line from memory. */
#ifndef ALIDADE_BASE_TABLE_H
#define ALIDADE_BASE_TABLE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { TABLE_MAX_COLUMNS = 256 };

/* One piece of the line, not terminated: points into the bytes that the table was opened on.
 * Surrounding blanks and one pair of double quotes are left out. */
struct table_cell {
    const char *start;
    size_t length;
};

struct table {
    const char *next, *end; /* what is still to be read */
    const char *name;       /* for messages; borrowed */
    char delimiter;         /* ',', '\t', ';' or '|', taken from the header row */
    int columns;
    struct table_cell header[TABLE_MAX_COLUMNS];
    struct table_cell row[TABLE_MAX_COLUMNS];
    int row_cells;    /* cells in the row now held; may differ from columns in a bad line */
    long line_number; /* of the row now held, counted from 1 */
};

/* Starts on size bytes at bytes, which must outlive the table. Lines that begin with '#' and blank
 * lines are skipped. ERROR_INPUT if there is no header row with at least two cells, or it holds
 * binary data. */
int table_open(struct table *table, const char *bytes, size_t size, const char *name,
               struct error *err);

/* Moves to the next row; false at the end. Never fails: judge row_cells and the cells. */
bool table_next(struct table *table);

/* Cuts one line into cells, at most that many (1 or more), and returns how many; a delimiter inside
 * double quotes is part of its cell. ' ' stands for one or more blanks, and makes no empty cells.
 */
int table_split(struct table_cell *cells, int most, const char *line, const char *end,
                char delimiter);

/* Index of the column with this name (letter case ignored), or -1. */
int table_column(const struct table *table, const char *name);

/* The cell of the current row as a finite number; false if it is missing, empty or not one. */
bool table_double(const struct table *table, int column, double *value);

/* Copies the cell, cut to size, always terminated; empty if the column is missing. */
void table_text(const struct table *table, int column, char *out, size_t size);

#endif
