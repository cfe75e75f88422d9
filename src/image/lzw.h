/* image/lzw.h: files packed by LZW, as the old program for .Z files does. */
#ifndef ALIDADE_IMAGE_LZW_H
#define ALIDADE_IMAGE_LZW_H

#include <stdbool.h>
#include <stddef.h>

/* Whether these are the first bytes of such a file. */
bool lzw_recognise(const unsigned char *head, size_t size);

enum lzw_end { LZW_WHOLE, LZW_DAMAGED, LZW_TOO_LONG, LZW_NO_MEMORY };

/* Unpacks bytes (T. A. Welch, A technique for high-performance data compression, 1984; codes of 9
 * to 16 bits, least significant bit first, in groups of eight) to at most `most` bytes. *out
 * belongs to the caller and has slack bytes of 0 behind its *length; it is NULL unless LZW_WHOLE is
 * returned. A file that is cut after a whole code cannot be told from a whole one. */
enum lzw_end lzw_unpack(unsigned char **out, size_t *length, const unsigned char *bytes,
                        size_t size, size_t most, size_t slack);

#endif
