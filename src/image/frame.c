#include "image/frame.h"

#include "base/file.h"
#include "base/text.h"
#include "image/format.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { HEAD_BYTES = 64 };

/* Kinds of files that people are likely to try, so that the refusal can name them. */
struct stranger {
    size_t offset;
    const char *bytes;
    size_t length;
    const char *what;
    bool is_picture;
};

static const struct stranger strangers[] = {
    {0, "FOVb", 4, "camera raw of a layered sensor", true},
    {4, "ftyp", 4, "a HEIF picture or a film", true},
    {0, "GIF8", 4, "a GIF picture", true},
    {8, "WEBP", 4, "a WebP picture", true},
    {0, "BM", 2, "a BMP picture", true},
    {0, "%PDF", 4, "a PDF document", false},
    {0, "XTENSION", 8, "a piece of a FITS file without its first header", false},
};

/* Writes "camera raw, TIFF, PNG, JPEG, FITS", from the table. */
static void list_formats(char *out, size_t size)
{
    out[0] = '\0';
    for (const struct format *f = format_table; f->name; f++) {
        text_append(out, size, "%s%s", out[0] ? ", " : "", f->name);
    }
}

static const struct stranger *find_stranger(const unsigned char *head, size_t size)
{
    for (size_t i = 0; i < sizeof strangers / sizeof *strangers; i++) {
        const struct stranger *s = &strangers[i];
        if (size >= s->offset + s->length && memcmp(head + s->offset, s->bytes, s->length) == 0) {
            return s;
        }
    }
    return NULL;
}

static const struct format *find_format(const unsigned char *head, size_t size,
                                        const struct picture_source *source)
{
    for (const struct format *f = format_table; f->name; f++) {
        if (f->recognise(head, size, source)) {
            return f;
        }
    }
    for (const struct format *f = format_table; f->name && !find_stranger(head, size); f++) {
        if (f->knows && f->knows(head, size, source)) {
            return f;
        }
    }
    return NULL;
}

const char *frame_format_of(const unsigned char *bytes, size_t size, const char *name)
{
    const struct picture_source source = picture_source_file(name);
    size_t head = size < HEAD_BYTES ? size : HEAD_BYTES;
    const struct format *format = find_format(bytes, head, &source);
    const struct stranger *stranger = format ? NULL : find_stranger(bytes, head);
    return format ? format->name : stranger && stranger->is_picture ? stranger->what : NULL;
}

static int refuse(const char *name, const unsigned char *head, size_t size, struct error *err)
{
    char formats[100];
    const struct stranger *stranger = find_stranger(head, size);
    list_formats(formats, sizeof formats);
    if (stranger) {
        return error_set(err, ERROR_INPUT, "%s: is %s; this version reads %s", name, stranger->what,
                         formats);
    }
    return error_set(err, ERROR_INPUT, "%s: not a picture format known here: %s", name, formats);
}

static int read_head(unsigned char *head, size_t *size, const struct picture_source *source,
                     struct error *err)
{
    FILE *stream = picture_source_open(source, size, err);
    if (!stream) {
        return ERROR_INPUT;
    }
    *size = fread(head, 1, HEAD_BYTES, stream);
    int number = ferror(stream) ? errno : 0;
    fclose(stream);
    return number ? file_tell_unreadable(source->name, number, err) : 0;
}

/* Most libraries take a read that the system refused for the end of the file, or for damage. The
 * system knows better: its last word is still in errno, or it says so again. */
static int find_cause(const char *name, struct error *err)
{
    struct error system = {0};
    if (errno == EIO) {
        file_tell_unreadable(name, EIO, &system);
    } else if (!file_check_readable(name, &system)) {
        return ERROR_INPUT;
    }
    if (err && system.code) {
        *err = system;
    }
    return ERROR_INPUT;
}

int frame_read_from(struct frame *frame, const struct picture_source *source,
                    const struct frame_options *options, struct error *err)
{
    unsigned char head[HEAD_BYTES];
    size_t size = 0;
    if (options->reader) {
        return options->reader->read(options->reader->context, frame, source, options, err);
    }
    memset(frame, 0, sizeof *frame);
    errno = 0;
    int code = read_head(head, &size, source, err);
    if (code) {
        return code;
    }
    const struct format *format = find_format(head, size, source);
    if (!format) {
        return refuse(source->name, head, size, err);
    }
    frame->format = format->name;
    frame->can = format->can;
    code = format->read(frame, source, options, err);
    if (!source->bytes && (code == ERROR_INPUT || (!code && errno == EIO))) {
        code = find_cause(source->name, err);
    }
    if (code) {
        frame_free(frame);
    }
    return code;
}

int frame_read(struct frame *frame, const char *name, const struct frame_options *options,
               struct error *err)
{
    const struct picture_source source = picture_source_file(name);
    return frame_read_from(frame, &source, options, err);
}

void frame_free(struct frame *frame)
{
    free(frame->luminance.value);
    for (int c = 0; c < 3; c++) {
        free(frame->colours.value[c]);
    }
    free(frame->picture.rgb);
    free(frame->picture.deep);
    free(frame->picture.profile);
    memset(frame, 0, sizeof *frame);
}
