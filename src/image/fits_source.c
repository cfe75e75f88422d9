#include "image/fits_source.h"

#include "base/fits_record.h"
#include "image/fits_name.h"
#include "image/guards/limits.h"
#include "image/lzw.h"

#include <limits.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* Of LZW, whose strings are at most as long as there are codes. No picture with stars comes near.
 */
static const double lzw_ratio = 4096;

bool fits_source_is_packed(const unsigned char *head, size_t size)
{
    return fits_source_is_gzip(head, size) || lzw_recognise(head, size);
}

bool fits_source_is_gzip(const unsigned char *head, size_t size)
{
    return size >= 3 && head[0] == 0x1f && head[1] == 0x8b && head[2] == 8;
}

/* The library takes the memory that a gzip file's last four bytes ask for. */
static int check_zip(size_t *length, FILE *stream, size_t size, const char *name, struct error *err)
{
    unsigned char tail[4];
    if (fseek(stream, -4, SEEK_END) != 0 || fread(tail, 1, 4, stream) != 4) {
        return error_because(err, error_set(err, ERROR_INPUT, "%s: the gzip file ends early", name),
                             CAUSE_SHORT);
    }
    *length = tail[0] | (size_t)tail[1] << 8 | (size_t)tail[2] << 16 | (size_t)tail[3] << 24;
    if ((double)*length > FITS_DEFLATE_RATIO * (double)size) {
        return error_because(
            err, error_set(err, ERROR_INPUT, "%s: the gzip file is damaged or ends early", name),
            CAUSE_SHORT);
    }
    return 0;
}

/* Whether the stream fills just the length that its end states. */
static bool inflate_all(unsigned char *out, size_t length, const struct picture_source *source)
{
    z_stream stream;
    memset(&stream, 0, sizeof stream);
    if (source->size > UINT_MAX || inflateInit2(&stream, 15 + 16) != Z_OK) { /* 16: gzip alone */
        return false;
    }
    stream.next_in = (z_const Bytef *)source->bytes;
    stream.avail_in = (uInt)source->size;
    stream.next_out = out;
    stream.avail_out = (uInt)length;
    int state = inflate(&stream, Z_FINISH);
    inflateEnd(&stream);
    return state == Z_STREAM_END && stream.total_out == length;
}

/* Memory for so many bytes and the rest of their last record: CFITSIO 4.2 copies whole records out
 * of memory, also where the bytes end within one. */
static unsigned char *whole_records(size_t length)
{
    return length < SIZE_MAX - 2 * FITS_RECORD ? calloc(length / FITS_RECORD + 2, FITS_RECORD)
                                               : NULL;
}

static int unpack(struct fits_source *input, size_t length, const struct picture_source *source,
                  struct error *err)
{
    input->unpacked = whole_records(length);
    if (!input->unpacked) {
        return error_memory(err);
    }
    if (!inflate_all(input->unpacked, length, source)) {
        return error_set(err, ERROR_INPUT, "%s: expected a whole FITS file in this gzip file",
                         source->name);
    }
    input->plain = picture_source_bytes(input->unpacked, length, source->name);
    return 0;
}

/* All bytes of the source; NULL if memory is short or the file cannot be read. */
static unsigned char *read_all(FILE *stream, size_t size)
{
    unsigned char *bytes = malloc(size);
    rewind(stream);
    if (bytes && fread(bytes, 1, size, stream) != size) {
        free(bytes);
        bytes = NULL;
    }
    return bytes;
}

/* CFITSIO would unpack it, too, but from a file alone, and the guard could not look before it. */
static int unpack_lzw(struct fits_source *input, FILE *stream, const char *name, struct error *err)
{
    const double most = lzw_ratio * (double)input->packed_size, limit = 8.0 * LIMIT_PIXELS;
    size_t length = 0;
    unsigned char *packed = read_all(stream, input->packed_size);
    if (!packed) {
        return error_memory(err);
    }
    enum lzw_end end = lzw_unpack(&input->unpacked, &length, packed, input->packed_size,
                                  (size_t)(most < limit ? most : limit), 2 * FITS_RECORD);
    free(packed);
    if (end == LZW_NO_MEMORY) {
        return error_memory(err);
    }
    if (end != LZW_WHOLE) {
        return error_set(err, ERROR_INPUT, "%s: the LZW-packed file is damaged%s", name,
                         end == LZW_TOO_LONG ? ": it unpacks to more than a picture" : "");
    }
    input->plain = picture_source_bytes(input->unpacked, length, name);
    input->packed_size = length;
    return 0;
}

/* Bytes that end within a record are copied to where the rest of it may be read. */
static int copy_broken(struct fits_source *input, const struct picture_source *source,
                       struct error *err)
{
    input->unpacked = whole_records(source->size);
    if (!input->unpacked) {
        return error_memory(err);
    }
    memcpy(input->unpacked, source->bytes, source->size);
    input->plain = picture_source_bytes(input->unpacked, source->size, source->name);
    return 0;
}

int fits_source_start(struct fits_source *input, const struct picture_source *source,
                      struct error *err)
{
    unsigned char head[4];
    size_t length = 0;
    input->plain = *source;
    FILE *stream = picture_source_open(source, &input->packed_size, err);
    if (!stream) {
        return ERROR_INPUT;
    }
    size_t got = fread(head, 1, sizeof head, stream);
    input->zipped = fits_source_is_gzip(head, got);
    int code =
        input->zipped ? check_zip(&length, stream, input->packed_size, source->name, err) : 0;
    bool lzw = lzw_recognise(head, got);
    code = code || !lzw ? code : unpack_lzw(input, stream, source->name, err);
    fclose(stream);
    if (code || lzw || !source->bytes) {
        return code;
    }
    return input->zipped                     ? unpack(input, length, source, err)
           : source->size % FITS_RECORD != 0 ? copy_broken(input, source, err)
                                             : 0;
}

int fits_source_open(struct fits_source *input, int *status, struct error *err)
{
    const struct picture_source *plain = &input->plain;
    if (!plain->bytes) {
        return fits_name_open(&input->file, plain->name, status, err);
    }
    input->bytes = (void *)(uintptr_t)plain->bytes; /* only read: CFITSIO asks for no const */
    input->size = plain->size;
    fits_open_memfile(&input->file, "memory", READONLY, &input->bytes, &input->size, 0, NULL,
                      status);
    return 0;
}

void fits_source_close(struct fits_source *input)
{
    int status = 0;
    if (input->file) {
        fits_close_file(input->file, &status);
    }
    free(input->unpacked);
    memset(input, 0, sizeof *input);
}
