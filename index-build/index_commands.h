/* index-build/index_commands.h: the program alidade-index and its commands, one file each. */
#ifndef ALIDADE_INDEX_BUILD_INDEX_COMMANDS_H
#define ALIDADE_INDEX_BUILD_INDEX_COMMANDS_H

#include "base/command.h"

extern const struct command command_build;
extern const struct command command_check;
extern const struct command command_show;

extern const struct program index_program;

#endif
