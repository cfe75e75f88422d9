/* tests/fuzz/fuzz_file.h: an input as a file, for what reads nothing else. */
#ifndef ALIDADE_TESTS_FUZZ_FILE_H
#define ALIDADE_TESTS_FUZZ_FILE_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char fuzz_name[256];

static void fuzz_remove_file(void)
{
    unlink(fuzz_name);
}

static int fuzz_write_file(const uint8_t *data, size_t size)
{
    if (!fuzz_name[0]) {
        const char *folder = getenv("TMPDIR");
        snprintf(fuzz_name, sizeof fuzz_name, "%.200s/alidade-fuzz-%ld", folder ? folder : "/tmp",
                 (long)getpid());
        atexit(fuzz_remove_file);
    }
    FILE *file = fopen(fuzz_name, "wb");
    if (!file) {
        return 0;
    }
    size_t written = fwrite(data, 1, size, file);
    return fclose(file) == 0 && written == size;
}

#endif
