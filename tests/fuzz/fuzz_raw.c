#include "fuzz_reader.h"
#include "image/read_raw.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_raw, data, size);
    return 0;
}
