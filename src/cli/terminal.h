/* cli/terminal.h: how wide to write. */
#ifndef ALIDADE_CLI_TERMINAL_H
#define ALIDADE_CLI_TERMINAL_H

#include <stdio.h>

/* What text is wrapped at: the width of the terminal that out goes to, at least 24 and at most 100;
 * 78 for a file or a pipe. */
int terminal_columns(FILE *out);

#endif
