#include "fuzz_lines.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct night_list list = {0};
    fuzz_read_list(&list, data, size);
    night_list_free(&list);
    return 0;
}
