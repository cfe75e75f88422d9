/* Any bytes as a picture file: frame_read must return, with a frame or with a sentence. */
#include "image/frame.h"
#include "image/scale_hint.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* CFITSIO 4.2 loses the bytes of a tile that doesn't unpack; no leak of ours is to hide behind. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:imcomp_decompress_tile";
}

/* Small inputs may state large pictures; beyond this the fuzzer would only wait for them. */
enum { MAX_INPUT = 32768 };

static char name[256];

static void remove_file(void)
{
    unlink(name);
}

static int write_file(const uint8_t *data, size_t size)
{
    if (!name[0]) {
        const char *folder = getenv("TMPDIR");
        snprintf(name, sizeof name, "%.200s/alidade-fuzz-frame-%ld", folder ? folder : "/tmp",
                 (long)getpid());
        atexit(remove_file);
    }
    FILE *file = fopen(name, "wb");
    if (!file) {
        return 0;
    }
    size_t written = fwrite(data, 1, size, file);
    return fclose(file) == 0 && written == size;
}

/* Touches every value, so that a sanitizer sees those that were never set. */
static void use(const struct frame *frame)
{
    const struct plane *plane = &frame->luminance;
    volatile double sum = 0;
    for (long i = 0; i < (long)plane->width * plane->height; i++) {
        sum = sum + (double)plane->value[i];
    }
    for (long i = 0; frame->picture.rgb && i < 3L * frame->width * frame->height; i++) {
        sum = sum + frame->picture.rgb[i];
    }
}

static void check(const struct frame_options *options)
{
    struct frame frame;
    struct error err = {0};
    struct scale_hint hint;
    int code = frame_read(&frame, name, options, &err);
    if (code != err.code || (code == 0) != (frame.luminance.value != NULL) ||
        (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code) {
        use(&frame);
        scale_hint_find(&hint, &frame.facts, frame.width, frame.height);
    }
    frame_free(&frame);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct frame_options plain = {.want_picture = false};
    const struct frame_options binned = {.want_picture = true, .max_plane_pixels = 1000};
    if (size <= MAX_INPUT && write_file(data, size)) {
        check(&plain);
        check(&binned);
    }
    return 0;
}
