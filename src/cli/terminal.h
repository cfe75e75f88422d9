/* cli/terminal.h: how wide to write. */
#ifndef ALIDADE_CLI_TERMINAL_H
#define ALIDADE_CLI_TERMINAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* What text is wrapped at: the width of the terminal that out goes to, at least 24 and at most 100;
 * 78 for a file or a pipe. */
int terminal_columns(FILE *out);

/* Writes lines of a report; on a terminal those that are too long are wrapped, under the text of
 * their label, and lines of JSON are left as they are. */
void terminal_write(FILE *out, const char *text, size_t length);

/* The same for so many columns. */
void terminal_wrap(FILE *out, const char *text, size_t length, int columns);

/* For a report that writes itself to a stream: where it is to go, which is out unless that is a
 * terminal; at the end it is written there as terminal_write does. */
struct terminal_text {
    FILE *out, *stream;
    char *text;
    size_t length;
};
FILE *terminal_begin(struct terminal_text *text, FILE *out);
void terminal_end(struct terminal_text *text);

/* Letters in red from now on, or not any more. */
void terminal_red(FILE *out, bool red);

#endif
