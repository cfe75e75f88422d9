/* tests/fuzz/fuzz_reader.h: any bytes as a picture file: reading must return, with a frame or with
 * a sentence. */
#ifndef ALIDADE_TESTS_FUZZ_READER_H
#define ALIDADE_TESTS_FUZZ_READER_H

#include "image/facts_words.h"
#include "image/frame.h"
#include "image/picture_source.h"
#include "image/scale_hint.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* CFITSIO 4.2 loses the bytes of a tile that doesn't unpack; no leak of ours is to hide behind. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:imcomp_decompress_tile";
}

/* Small inputs may state large pictures; beyond this the fuzzer would only wait for them. */
enum { FUZZ_MOST_INPUT = 32768 };

typedef int fuzz_reader(struct frame *frame, const struct picture_source *source,
                        const struct frame_options *options, struct error *err);

/* Touches every value, so that a sanitizer sees those that were never set. */
static void fuzz_use(const struct frame *frame)
{
    const struct plane *plane = &frame->luminance;
    struct scale_hint hint;
    char words[400];
    volatile double sum = 0;
    for (long i = 0; i < (long)plane->width * plane->height; i++) {
        sum = sum + (double)plane->value[i];
    }
    for (long i = 0; i < 3L * frame->picture.width * frame->picture.height; i++) {
        sum = sum + (frame->picture.rgb ? frame->picture.rgb[i] : frame->picture.deep[i]);
    }
    for (size_t i = 0; i < frame->picture.profile_size; i++) {
        sum = sum + frame->picture.profile[i];
    }
    if (scale_hint_find(&hint, &frame->facts, frame->width, frame->height)) {
        scale_hint_write(words, sizeof words, &hint);
    }
    facts_write_time(words, sizeof words, &frame->facts);
    facts_write_camera(words, sizeof words, &frame->facts);
    facts_write_place(words, sizeof words, &frame->facts);
}

static void fuzz_check(fuzz_reader *read, const struct picture_source *source,
                       const struct frame_options *options)
{
    struct frame frame = {0};
    struct error err = {0};
    int code = read(&frame, source, options, &err);
    if (code != err.code || (code && err.text[0] == '\0') || (!code && !frame.luminance.value)) {
        abort();
    }
    if (!code) {
        fuzz_use(&frame);
    }
    frame_free(&frame);
}

static inline void fuzz_run(fuzz_reader *read, const uint8_t *data, size_t size)
{
    const struct frame_options plain = {.want_picture = false};
    const struct frame_options binned = {
        .want_picture = true, .want_deep = size % 2, .max_plane_pixels = 1000};
    /* In bytes of their own, so that a sanitizer sees what reads beyond them. */
    uint8_t *own = size <= FUZZ_MOST_INPUT ? malloc(size + (size == 0)) : NULL;
    if (own) {
        memcpy(own, data, size);
        struct picture_source source = picture_source_bytes(own, size, "fuzzed");
        fuzz_check(read, &source, &plain);
        fuzz_check(read, &source, &binned);
    }
    free(own);
}

#endif
