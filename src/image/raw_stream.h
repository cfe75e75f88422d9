/* image/raw_stream.h: the bytes behind an EXIF entry that LibRaw shows. */
#ifndef ALIDADE_IMAGE_RAW_STREAM_H
#define ALIDADE_IMAGE_RAW_STREAM_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Reads from the stream that LibRaw hands to an exif_parser_callback, at its current place. Returns
 * the bytes read, fewer than size where the file ends. */
size_t raw_stream_read(void *stream, unsigned char *bytes, size_t size);

#ifdef __cplusplus
}
#endif

#endif
