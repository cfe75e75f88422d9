#include "fuzz_reader.h"
#include "image/read_jpeg.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_jpeg, data, size);
    return 0;
}
