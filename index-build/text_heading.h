/* index-build/text_heading.h: what the first lines of a text tell about the rows below them. */
#ifndef ALIDADE_INDEX_BUILD_TEXT_HEADING_H
#define ALIDADE_INDEX_BUILD_TEXT_HEADING_H

#include "column_list.h"
#include "read_stars.h"
#include "star_columns.h"

#include <stdbool.h>
#include <stddef.h>

/* Starts as all zeros. */
struct text_heading {
    struct column_list list;
    char delimiter;      /* ' ': blanks; 0: the columns have fixed places */
    bool more_cells;     /* rows may go on behind the columns */
    bool joined_numbers; /* the catalogue's number is in pieces of fixed width: "451-000001" */
    const char *rows;    /* where they begin */
    long lines;          /* that are above them */
};

/* Finds names and units of the columns: those that the user gives, those that a byte-by-byte
 * description gives, those of a catalogue known by its lines, or those in a row of names, be it in
 * a comment or below some lines of words; a row of units and one of dashes may follow. text is the
 * beginning of the file, of whole lines where it has any. ERROR_INPUT with the place and what is
 * missing. Inverse: text_heading_free. */
int text_heading_read(struct text_heading *heading, struct star_columns *columns, const char *text,
                      size_t size, const struct read_task *task, struct error *err);

void text_heading_free(struct text_heading *heading);

/* Moves *start..*end to the next line that is neither blank nor, by its first character '#', a
 * comment; *next goes behind it and *line counts all that were passed. False at the end. */
bool text_next_line(const char **start, const char **end, const char **next, const char *stop,
                    long *line);

/* Whether there is a control character that no text has. */
bool text_is_binary(const char *start, const char *end);

#endif
