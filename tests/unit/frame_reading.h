/* tests/unit/frame_reading.h: files read into frames, or refused as they should be. */
#ifndef ALIDADE_TESTS_FRAME_READING_H
#define ALIDADE_TESTS_FRAME_READING_H

#include "image/frame.h"
#include "scratch.h"
#include "stamps.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct frame_options plane_only = {.want_picture = false},
                                  with_picture = {.want_picture = true};

/* The bytes of a file; NULL if it cannot be read. Belongs to the caller. */
static inline unsigned char *bytes_of_file(const char *path, size_t *size)
{
    FILE *stream = fopen(path, "rb");
    unsigned char *bytes = NULL;
    long length = stream && fseek(stream, 0, SEEK_END) == 0 ? ftell(stream) : -1;
    if (length >= 0 && length < 1L << 30) { /* else a folder */
        *size = (size_t)length;
        rewind(stream);
        bytes = malloc(*size + 1);
        ck_assert(fread(bytes, 1, *size, stream) == *size);
    }
    if (stream) {
        fclose(stream);
    }
    return bytes;
}

static inline void check_same_frame(const struct frame *a, const struct frame *b)
{
    size_t pixels = (size_t)a->luminance.width * (size_t)a->luminance.height;
    size_t values = 3 * (size_t)a->picture.width * (size_t)a->picture.height;
    ck_assert(a->width == b->width && a->height == b->height && a->rows == b->rows);
    ck_assert(a->format == b->format && a->turned == b->turned);
    ck_assert(a->luminance.bin == b->luminance.bin && a->luminance.width == b->luminance.width);
    ck_assert_mem_eq(a->luminance.value, b->luminance.value, pixels * sizeof(float));
    ck_assert(!a->picture.rgb == !b->picture.rgb && !a->picture.deep == !b->picture.deep);
    ck_assert(!a->picture.rgb || memcmp(a->picture.rgb, b->picture.rgb, values) == 0);
    ck_assert(!a->picture.deep || memcmp(a->picture.deep, b->picture.deep, 2 * values) == 0);
    ck_assert_uint_eq(a->picture.profile_size, b->picture.profile_size);
    ck_assert_str_eq(a->facts.camera, b->facts.camera);
    assert_same_stamp(a->facts.start_local, b->facts.start_local);
    assert_same_stamp(a->facts.start_utc, b->facts.start_utc);
    ck_assert(a->facts.focal_mm.origin == b->facts.focal_mm.origin &&
              a->facts.focal_mm.value == b->facts.focal_mm.value);
    ck_assert(a->facts.exposure_s.value == b->facts.exposure_s.value);
    ck_assert(a->facts.pixel_um.value == b->facts.pixel_um.value);
}

/* The same bytes must say the same when they come from memory. */
static inline void check_from_memory(const struct frame *frame, const char *path,
                                     const struct frame_options *options)
{
    struct error err = {0};
    struct frame again;
    size_t size = 0;
    unsigned char *bytes = bytes_of_file(path, &size);
    ck_assert(bytes != NULL);
    const struct picture_source source = picture_source_bytes(bytes, size, path);
    ck_assert_msg(frame_read_from(&again, &source, options, &err) == 0, "%s", err.text);
    check_same_frame(frame, &again);
    frame_free(&again);
    free(bytes);
}

static inline void check_memory_refused(const char *path, const char *reason)
{
    struct frame frame;
    struct error err = {0};
    size_t size = 0;
    unsigned char *bytes = bytes_of_file(path, &size);
    if (bytes && size > 0) {
        const struct picture_source source = picture_source_bytes(bytes, size, path);
        ck_assert_int_eq(frame_read_from(&frame, &source, &with_picture, &err), ERROR_INPUT);
        ck_assert_msg(strstr(err.text, path) == err.text, "no name: %s", err.text);
        ck_assert_msg(strstr(err.text, reason) != NULL, "from memory: %s, expected: %s", err.text,
                      reason);
    }
    free(bytes);
}

static inline void read_good(struct frame *frame, const char *path,
                             const struct frame_options *options)
{
    struct error err = {0};
    int code = frame_read(frame, path, options, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    ck_assert_int_eq(err.code, 0);
    check_from_memory(frame, path, options);
}

static inline void check_refused(const char *path, const char *reason)
{
    struct frame frame, empty;
    struct error err = {0};
    memset(&empty, 0, sizeof empty);
    int code = frame_read(&frame, path, &with_picture, &err);
    ck_assert_msg(code == ERROR_INPUT && err.code == code, "%s: code %d", path, code);
    ck_assert_msg(strstr(err.text, path) == err.text, "no name: %s", err.text);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s, expected: %s", err.text, reason);
    /* What ends early may still be being copied. */
    ck_assert(!strstr(err.text, "ends early") || err.cause == CAUSE_SHORT);
    ck_assert_msg(strchr(err.text, '\n') == NULL, "more than a line: %s", err.text);
    ck_assert_mem_eq(&frame, &empty, sizeof empty);
    check_memory_refused(path, reason);
}

static inline double plane_at(const struct frame *frame, int x, int y)
{
    return (double)frame->luminance.value[y * frame->luminance.width + x];
}

#endif
