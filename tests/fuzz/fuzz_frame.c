/* The kind of file is judged by its bytes, too. */
#include "fuzz_reader.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(frame_read_from, data, size);
    return 0;
}
