#include "base/fingerprint.h"

#include "base/file.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/types.h>
#include <unistd.h>

uint64_t fingerprint_feed(uint64_t digest, const void *bytes, size_t length)
{
    const unsigned char *byte = bytes;
    for (size_t i = 0; i < length; i++) {
        digest = (digest ^ byte[i]) * UINT64_C(0x100000001b3);
    }
    return digest;
}

/* Feeds length bytes from offset on; false with errno if they cannot be read. What a file that is
 * cut short meanwhile has no longer is left out. */
static bool feed_block(uint64_t *digest, int descriptor, off_t offset, size_t length)
{
    unsigned char block[FINGERPRINT_BLOCK];
    size_t have = 0;
    while (have < length) {
        ssize_t got = pread(descriptor, block + have, length - have, offset + (off_t)have);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        if (got < 0) {
            return false;
        }
        if (got == 0) {
            break;
        }
        have += (size_t)got;
    }
    *digest = fingerprint_feed(*digest, block, have);
    return true;
}

static bool feed_file(uint64_t *digest, int descriptor, size_t size)
{
    const size_t most = (size_t)FINGERPRINT_BLOCKS * FINGERPRINT_BLOCK;
    size_t room = size > most ? size - FINGERPRINT_BLOCK : 0; /* for the blocks to begin in */
    for (int i = 0; i < FINGERPRINT_BLOCKS; i++) {
        size_t start =
            room ? room / (FINGERPRINT_BLOCKS - 1) * (size_t)i : (size_t)i * FINGERPRINT_BLOCK;
        start = room && i == FINGERPRINT_BLOCKS - 1 ? room : start;
        size_t left = size > start ? size - start : 0;
        size_t length = left < FINGERPRINT_BLOCK ? left : FINGERPRINT_BLOCK;
        if (!feed_block(digest, descriptor, (off_t)start, length)) {
            return false;
        }
    }
    return true;
}

int fingerprint_read(uint64_t *digest, long long *bytes, const char *name, struct error *err)
{
    size_t size;
    FILE *stream = file_stream_open(name, &size, err);
    if (!stream) {
        return ERROR_INPUT;
    }
    uint64_t fed = FINGERPRINT_START;
    int number = feed_file(&fed, fileno(stream), size) ? 0 : errno;
    fclose(stream);
    if (number) {
        return file_tell_unreadable(name, number, err);
    }
    *digest = fed ? fed : 1;
    *bytes = (long long)size;
    return 0;
}
