/* alidade: says where a photograph of the sky points. */
#include "base/lost_pages.h"
#include "cli/cli_commands.h"

#ifndef ALIDADE_VERSION
#error "the Makefile gives the version"
#endif

static const struct command *const commands[] = {
    &command_solve, &command_aim,    &command_annotate, &command_plan,
    &command_watch, &command_review, &command_object,   NULL};

static const struct program program = {
    .name = "alidade",
    .version = ALIDADE_VERSION,
    .about = "Reads the stars in a photograph, says exactly where the camera points, and how to "
             "turn it to a target.",
    .commands = commands,
    .epilogue = "Exit codes: 0 done; 1 an honest no (no solution, target not in the frame); 2 the "
                "command line is wrong; 3 an input could not be read; 4 an output could not be "
                "written. With several frames it is the highest of theirs.",
};

int main(int argc, char **argv)
{
    lost_pages_read_as_zeros();
    return command_main(&program, argc, argv, stdout, stderr);
}
