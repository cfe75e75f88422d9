/* manual/completion.h: completion of a program's command lines, from the tables of its commands. */
#ifndef ALIDADE_MANUAL_COMPLETION_H
#define ALIDADE_MANUAL_COMPLETION_H

#include "base/command.h"

#include <stdio.h>

/* Each writes a script for one shell. Commands, options, words of a choice and names of files or
 * folders are completed. Bash needs nothing of the package bash-completion. */
void completion_write_bash(FILE *out, const struct program *program);
void completion_write_zsh(FILE *out, const struct program *program);
void completion_write_fish(FILE *out, const struct program *program);

#endif
