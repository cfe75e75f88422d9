/* Manual pages, completions and JSON Schema of alidade. */
#include "cli/cli_commands.h"
#include "cli/json_tables.h"
#include "manual/manual.h"

int main(int argc, char **argv)
{
    return manual_main(&alidade_program, json_tables, argc, argv);
}
