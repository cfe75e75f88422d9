/* alidade-index: from a star catalogue to the index that alidade solves frames with. */
#include "index_commands.h"

#include "base/lost_pages.h"

#ifndef ALIDADE_VERSION
#error "the Makefile gives the version"
#endif

static const struct command *const commands[] = {&command_build, &command_check, &command_show,
                                                 NULL};

static const struct program program = {
    .name = "alidade-index",
    .version = ALIDADE_VERSION,
    .about = "Makes the index of stars and patterns of stars that alidade solves frames with.",
    .commands = commands,
    .epilogue = "Exit codes: 0 done; 2 the command line is wrong; 3 an input could not be read or "
                "is damaged; 4 an output could not be written.",
};

int main(int argc, char **argv)
{
    lost_pages_read_as_zeros();
    return command_main(&program, argc, argv, stdout, stderr);
}
