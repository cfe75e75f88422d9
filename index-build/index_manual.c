/* Manual pages and completions of alidade-index. */
#include "index_commands.h"

#include "manual/manual.h"

int main(int argc, char **argv)
{
    static const struct schema *const no_tables[] = {NULL};
    return manual_main(&index_program, no_tables, argc, argv);
}
