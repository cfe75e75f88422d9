#include "fuzz_directory.h"
#include "fuzz_reader.h"
#include "image/read_raw.h"

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    return fuzz_change_directory(data, size, most, seed, 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_raw, data, size);
    return 0;
}
