#include "fuzz_reader.h"
#include "image/read_tiff.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_tiff, data, size);
    return 0;
}
