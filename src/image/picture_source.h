/* image/picture_source.h: where the bytes of a picture are: in a file or in memory. */
#ifndef ALIDADE_IMAGE_PICTURE_SOURCE_H
#define ALIDADE_IMAGE_PICTURE_SOURCE_H

#include "base/error.h"

#include <stddef.h>
#include <stdio.h>

/* All borrowed. */
struct picture_source {
    const char *name;           /* of the file; of bytes, what messages call them */
    const unsigned char *bytes; /* NULL: the file of that name is read */
    size_t size;                /* of the bytes */
};

struct picture_source picture_source_file(const char *name);
/* bytes must not be NULL. */
struct picture_source picture_source_bytes(const void *bytes, size_t size, const char *name);

/* Opens for reading from the first byte; *size gets the length, which is above 0. Refuses what
 * file_stream_open refuses, and no bytes at all. NULL and ERROR_INPUT. Inverse: fclose. */
FILE *picture_source_open(const struct picture_source *source, size_t *size, struct error *err);

#endif
