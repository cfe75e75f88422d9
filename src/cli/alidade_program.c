/* What alidade is made of. */
#include "cli/cli_commands.h"
#include "cli/complaint.h"

#ifndef ALIDADE_VERSION
#error "the Makefile gives the version"
#endif

static const struct command *const commands[] = {
    &command_solve, &command_aim,    &command_annotate, &command_plan,
    &command_watch, &command_review, &command_object,   NULL};

static const struct exit_row exits[] = {
    {ERROR_NONE, "done"},
    {ERROR_NO, "an honest no (no solution, target not in the frame)"},
    {ERROR_USAGE, "the command line is wrong, or nothing has the name that it gives"},
    {ERROR_INPUT, "an input could not be read"},
    {ERROR_OUTPUT, "an output could not be written"},
    {0},
};

const struct program alidade_program = {
    .name = "alidade",
    .version = ALIDADE_VERSION,
    .summary = "aim a camera at what a single exposure does not show",
    .about = "Reads the stars in a photograph, shows exactly where the camera points, and how to "
             "turn it to a target.",
    .commands = commands,
    .exits = exits,
    .epilogue = "With several frames it is the highest of theirs.",
    .remedy = complaint_remedy,
};
