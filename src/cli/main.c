/* alidade: says where a photograph of the sky points. */
#include "base/lost_pages.h"
#include "cli/cli_commands.h"

int main(int argc, char **argv)
{
    lost_pages_read_as_zeros();
    return command_main(&alidade_program, argc, argv, stdout, stderr);
}
