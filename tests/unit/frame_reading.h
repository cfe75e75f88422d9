/* tests/unit/frame_reading.h: files read into frames, or refused as they should be. */
#ifndef ALIDADE_TESTS_FRAME_READING_H
#define ALIDADE_TESTS_FRAME_READING_H

#include "image/frame.h"
#include "scratch.h"

static const struct frame_options plane_only = {.want_picture = false},
                                  with_picture = {.want_picture = true};

static inline void read_good(struct frame *frame, const char *path,
                             const struct frame_options *options)
{
    struct error err = {0};
    int code = frame_read(frame, path, options, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    ck_assert_int_eq(err.code, 0);
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
}

static inline double plane_at(const struct frame *frame, int x, int y)
{
    return (double)frame->luminance.value[y * frame->luminance.width + x];
}

#endif
