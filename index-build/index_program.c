/* What alidade-index is made of. */
#include "index_commands.h"

#ifndef ALIDADE_VERSION
#error "the Makefile gives the version"
#endif

static const struct command *const commands[] = {&command_build, &command_check, &command_show,
                                                 NULL};

static const struct exit_row exits[] = {
    {ERROR_NONE, "done"},
    {ERROR_USAGE, "the command line is wrong"},
    {ERROR_INPUT, "an input could not be read or is damaged"},
    {ERROR_OUTPUT, "an output could not be written"},
    {0},
};

const struct program index_program = {
    .name = "alidade-index",
    .version = ALIDADE_VERSION,
    .summary = "make the index of stars that alidade solves frames with",
    .about = "Makes the index of stars and patterns of stars that alidade solves frames with.",
    .commands = commands,
    .exits = exits,
};
