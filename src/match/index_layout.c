#include "match/index_layout.h"

#include <zlib.h>

uint32_t index_layout_checksum(const unsigned char *bytes)
{
    static const unsigned char zero[4] = {0};
    uLong crc = crc32(0, bytes, LAYOUT_CHECKSUM);
    crc = crc32(crc, zero, 4);
    crc = crc32(crc, bytes + LAYOUT_CHECKSUM + 4, LAYOUT_HEADER_END - LAYOUT_CHECKSUM - 4);
    return (uint32_t)crc;
}
