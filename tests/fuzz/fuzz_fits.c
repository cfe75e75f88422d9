#include "fuzz_reader.h"
#include "image/read_fits.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_fits, data, size);
    return 0;
}
