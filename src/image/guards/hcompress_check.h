/* image/guards/hcompress_check.h: whether an H-compressed tile holds what it should. */
#ifndef ALIDADE_IMAGE_GUARDS_HCOMPRESS_CHECK_H
#define ALIDADE_IMAGE_GUARDS_HCOMPRESS_CHECK_H

#include <stdbool.h>
#include <stddef.h>

/* Whether the bytes are the codes of a tile of just this size (HCOMPRESS_1, FITS 4.0, section
 * 10.4.4; R. L. White, High-performance compression of astronomical images, 1992), in planes of at
 * most most_bits bits, and end within size. False too where there is no memory to look. */
bool hcompress_check(const unsigned char *bytes, size_t size, long width, long height,
                     int most_bits);

#endif
