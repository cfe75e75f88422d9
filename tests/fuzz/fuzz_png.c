#include "fuzz_reader.h"
#include "image/read_png.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_png, data, size);
    return 0;
}
