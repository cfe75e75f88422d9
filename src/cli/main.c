/* alidade: says where a photograph of the sky points. */
#include "base/lost_pages.h"
#include "cli/cli_commands.h"
#include "cli/terminal.h"

int main(int argc, char **argv)
{
    struct terminal_text complaints;
    lost_pages_read_as_zeros();
    int code =
        command_main(&alidade_program, argc, argv, stdout, terminal_begin(&complaints, stderr));
    terminal_end(&complaints);
    return code;
}
