/* cli/cli_commands.h: the program alidade and its commands, one file each. */
#ifndef ALIDADE_CLI_COMMANDS_H
#define ALIDADE_CLI_COMMANDS_H

#include "base/command.h"

extern const struct command command_solve;
extern const struct command command_aim;
extern const struct command command_annotate;
extern const struct command command_object;
extern const struct command command_plan;
extern const struct command command_watch;
extern const struct command command_review;

extern const struct program alidade_program;

#endif
