#include "fuzz_catalogue.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(data, size);
    return 0;
}
