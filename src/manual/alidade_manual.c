/* Manual pages and completions of alidade. */
#include "cli/cli_commands.h"
#include "manual/manual.h"

int main(int argc, char **argv)
{
    return manual_main(&alidade_program, argc, argv);
}
