/* image/guards/gzip_check.h: whether a gzipped tile holds what it should. */
#ifndef ALIDADE_IMAGE_GUARDS_GZIP_CHECK_H
#define ALIDADE_IMAGE_GUARDS_GZIP_CHECK_H

#include <stdbool.h>
#include <stddef.h>

/* Whether the bytes are one whole gzip or zlib stream (RFC 1952, RFC 1950) that unpacks, with its
 * checksum right, to at most so many bytes. */
bool gzip_check(const unsigned char *bytes, size_t size, size_t most);

#endif
