/* Damage to a chunk would be refused for its checksum before anything else looks at it: each input
 * is tried as it is, and again with its checksums made good. */
#include "fuzz_reader.h"
#include "image/read_png.h"

#include <zlib.h>

enum { SIGNATURE = 8, CHUNK_HEAD = 8, CHUNK_TAIL = 4 };

static size_t big_endian(const uint8_t *p)
{
    return (size_t)p[0] << 24 | (size_t)p[1] << 16 | (size_t)p[2] << 8 | p[3];
}

static void mend_checksums(uint8_t *data, size_t size)
{
    size_t at = SIGNATURE;
    while (at < size && size - at >= CHUNK_HEAD + CHUNK_TAIL) {
        size_t length = big_endian(data + at);
        if (length > size - at - CHUNK_HEAD - CHUNK_TAIL) {
            return;
        }
        uint8_t *tail = data + at + CHUNK_HEAD + length;
        uLong sum = crc32(0, data + at + 4, (uInt)(length + 4));
        for (int i = 0; i < CHUNK_TAIL; i++) {
            tail[i] = (uint8_t)(sum >> (24 - 8 * i));
        }
        at += CHUNK_HEAD + length + CHUNK_TAIL;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t *mended = malloc(size + 1);
    fuzz_run(read_png, data, size);
    if (mended && size > 0) {
        memcpy(mended, data, size);
        mend_checksums(mended, size);
        fuzz_run(read_png, mended, size);
    }
    free(mended);
    return 0;
}
