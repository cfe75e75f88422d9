/* tests/fuzz/fuzz_file.h: an input as a file, for what reads nothing else. */
#ifndef ALIDADE_TESTS_FUZZ_FILE_H
#define ALIDADE_TESTS_FUZZ_FILE_H

#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char fuzz_name[256];

static void fuzz_remove_file(void)
{
    unlink(fuzz_name);
}

/* The file stays open, since each call of the system costs as much as reading a small table. */
static int fuzz_write_file(const uint8_t *data, size_t size)
{
    static int file = -1;
    if (!fuzz_name[0]) {
        const char *folder = getenv("TMPDIR");
        snprintf(fuzz_name, sizeof fuzz_name, "%.200s/alidade-fuzz-%ld", folder ? folder : "/tmp",
                 (long)getpid());
        file = open(fuzz_name, O_WRONLY | O_CREAT | O_TRUNC, 0600);
        atexit(fuzz_remove_file);
    }
    return file >= 0 && ftruncate(file, 0) == 0 && pwrite(file, data, size, 0) == (ssize_t)size;
}

#endif
