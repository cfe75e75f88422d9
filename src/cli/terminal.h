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

/* Letters in red from now on, or not any more. */
void terminal_red(FILE *out, bool red);

#endif
