#include "image/picture_source.h"

#include "base/file.h"

struct picture_source picture_source_file(const char *name)
{
    return (struct picture_source){.name = name};
}

struct picture_source picture_source_bytes(const void *bytes, size_t size, const char *name)
{
    return (struct picture_source){.name = name, .bytes = bytes, .size = size};
}

FILE *picture_source_open(const struct picture_source *source, size_t *size, struct error *err)
{
    if (!source->bytes) {
        return file_stream_open(source->name, size, err);
    }
    if (source->size == 0) {
        error_set(err, ERROR_INPUT, "%s: holds no bytes; expected a picture", source->name);
        return NULL;
    }
    /* The stream only reads, though its function takes bytes that could be written. */
    FILE *stream = fmemopen((void *)source->bytes, source->size, "rb");
    if (!stream) {
        error_set(err, ERROR_INPUT, "%s: no memory is left to read it", source->name);
    }
    *size = source->size;
    return stream;
}
