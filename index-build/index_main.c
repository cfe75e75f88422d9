/* alidade-index: from a star catalogue to the index that alidade solves frames with. */
#include "index_commands.h"

#include "base/lost_pages.h"

int main(int argc, char **argv)
{
    lost_pages_read_as_zeros();
    return command_main(&index_program, argc, argv, stdout, stderr);
}
