#include "image/guards/gzip_check.h"

#include <limits.h>
#include <string.h>
#include <zlib.h>

bool gzip_check(const unsigned char *bytes, size_t size, size_t most)
{
    unsigned char scratch[1 << 14];
    z_stream stream;
    memset(&stream, 0, sizeof stream);
    if (size > UINT_MAX || inflateInit2(&stream, 15 + 32) != Z_OK) { /* 32: either header */
        return false;
    }
    stream.next_in = (z_const Bytef *)bytes;
    stream.avail_in = (uInt)size;
    int state = Z_OK;
    while (state == Z_OK && stream.total_out <= most) {
        stream.next_out = scratch;
        stream.avail_out = sizeof scratch;
        state = inflate(&stream, Z_NO_FLUSH);
    }
    bool good = state == Z_STREAM_END && stream.total_out <= most;
    inflateEnd(&stream);
    return good;
}
