/* night/night_file.h: by what the file of a frame is known again. */
#ifndef ALIDADE_NIGHT_NIGHT_FILE_H
#define ALIDADE_NIGHT_NIGHT_FILE_H

#include "base/error.h"

#include <stdbool.h>
#include <stdint.h>

/* All zeros: nothing is known. */
struct night_file {
    long long bytes;        /* its length */
    long long modified_ns;  /* when it was last written, since 1970 UTC */
    uint64_t digest;        /* fingerprint_read; 0: its content could not be read */
    uint64_t device, inode; /* the place on the disk, as stat has it: not for the log */
};

/* Asks the system, and reads the few blocks that the digest needs. */
void night_file_look(struct night_file *file, const char *name);
/* Length, time and place alone. */
void night_file_glance(struct night_file *file, const char *name);

/* Whether two have the same content, of which both are known. */
bool night_file_is_copy(const struct night_file *a, const struct night_file *b);
/* Whether both are the same file on the disk. */
bool night_file_is_same(const struct night_file *a, const struct night_file *b);
/* Whether a file was left alone between two looks. */
bool night_file_is_unchanged(const struct night_file *before, const struct night_file *after);

#endif
