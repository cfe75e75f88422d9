/* index-build/input.h: a catalogue file read from front to back, unpacked on the way. */
#ifndef ALIDADE_INDEX_BUILD_INPUT_H
#define ALIDADE_INDEX_BUILD_INPUT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { INPUT_HEAD = 64 };

/* Starts as all zeros. */
struct input {
    const char *name;               /* borrowed */
    void *stream;                   /* zlib's */
    size_t size;                    /* of the file as it lies on the disk */
    bool packed;                    /* gzip (RFC 1952) */
    unsigned char head[INPUT_HEAD]; /* how the unpacked bytes begin */
    size_t head_size;
};

/* Opens a plain file; ERROR_INPUT as file_stream_open has it, when the file is packed in a way that
 * is not read here, or when its first bytes are damaged. Inverse: input_close. */
int input_open(struct input *input, const char *name, struct error *err);

/* Reads the next bytes, unpacked; *got is below room only at the end. ERROR_INPUT when the disk
 * fails or the packed data is damaged or cut short. */
int input_read(struct input *input, void *bytes, size_t room, size_t *got, struct error *err);

/* How much of the file was read, 0..1. */
double input_share(const struct input *input);

/* Unpacks the whole into a file without a name, for libraries that want a file of their own; *path,
 * 32 bytes, gets what opens it as long as *descriptor, which the caller closes, is open.
 * ERROR_INPUT, ERROR_OUTPUT. */
int input_unpack(struct input *input, int *descriptor, char path[32], struct error *err);

void input_close(struct input *input);

#endif
