/* tests/fuzz/fuzz_change.h: changes to an input that keep the shape of its kind, beside those that
 * libFuzzer, or replay.c in its place, makes to bytes. */
#ifndef ALIDADE_TESTS_FUZZ_CHANGE_H
#define ALIDADE_TESTS_FUZZ_CHANGE_H

#include "base/random.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* What a target may offer; it returns the new size, at most as many bytes as there is room for. */
size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed);
/* Changes any bytes; the fuzzer's own. */
size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t most);

struct fuzz_input {
    uint8_t *data;
    size_t size, most;
    struct random dice;
};

static inline size_t fuzz_below(struct fuzz_input *in, size_t limit)
{
    return limit ? (size_t)(random_bits(&in->dice) % limit) : 0;
}

/* Puts length bytes, which are none of the input's, in place of those from at to end, as far as
 * there is room. */
static inline void fuzz_splice(struct fuzz_input *in, size_t at, size_t end, const void *bytes,
                               size_t length)
{
    size_t tail = in->size - end;
    if (at + length + tail > in->most) {
        return;
    }
    memmove(in->data + at + length, in->data + end, tail);
    memcpy(in->data + at, bytes, length);
    in->size = at + length + tail;
}

#endif
