/* Manual pages and completions of alidade-index. */
#include "index_commands.h"

#include "manual/manual.h"

int main(int argc, char **argv)
{
    return manual_main(&index_program, argc, argv);
}
