/* tests/fuzz/fuzz_reader.h: any bytes as a picture file: reading must return, with a frame or with
 * a sentence. */
#ifndef ALIDADE_TESTS_FUZZ_READER_H
#define ALIDADE_TESTS_FUZZ_READER_H

#include "image/facts_words.h"
#include "image/frame.h"
#include "image/scale_hint.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* CFITSIO 4.2 loses the bytes of a tile that doesn't unpack; no leak of ours is to hide behind. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:imcomp_decompress_tile";
}

/* Small inputs may state large pictures; beyond this the fuzzer would only wait for them. */
enum { FUZZ_MOST_INPUT = 32768 };

typedef int fuzz_reader(struct frame *frame, const char *name, const struct frame_options *options,
                        struct error *err);

static char fuzz_name[256];

static void fuzz_remove_file(void)
{
    unlink(fuzz_name);
}

static int fuzz_write_file(const uint8_t *data, size_t size)
{
    if (!fuzz_name[0]) {
        const char *folder = getenv("TMPDIR");
        snprintf(fuzz_name, sizeof fuzz_name, "%.200s/alidade-fuzz-frame-%ld",
                 folder ? folder : "/tmp", (long)getpid());
        atexit(fuzz_remove_file);
    }
    FILE *file = fopen(fuzz_name, "wb");
    if (!file) {
        return 0;
    }
    size_t written = fwrite(data, 1, size, file);
    return fclose(file) == 0 && written == size;
}

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

static void fuzz_check(fuzz_reader *read, const struct frame_options *options)
{
    struct frame frame = {0};
    struct error err = {0};
    int code = read(&frame, fuzz_name, options, &err);
    if (code != err.code || (code && err.text[0] == '\0') || (!code && !frame.luminance.value)) {
        abort();
    }
    if (!code) {
        fuzz_use(&frame);
    }
    frame_free(&frame);
}

static void fuzz_run(fuzz_reader *read, const uint8_t *data, size_t size)
{
    const struct frame_options plain = {.want_picture = false};
    const struct frame_options binned = {
        .want_picture = true, .want_deep = size % 2, .max_plane_pixels = 1000};
    if (size <= FUZZ_MOST_INPUT && fuzz_write_file(data, size)) {
        fuzz_check(read, &plain);
        fuzz_check(read, &binned);
    }
}

#endif
