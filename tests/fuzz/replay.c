/* Runs a fuzz target on the files named, where no fuzzer is linked in, and on damaged copies of
 * each: the same ones every time. Usage: fuzz_NAME [--damaged COPIES] FILE... */
#include "fuzz_change.h"

#include <stdio.h>
#include <stdlib.h>

enum { MOST_BYTES = 1 << 20 };

#pragma weak LLVMFuzzerCustomMutator

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static size_t below(struct random *dice, size_t limit)
{
    return (size_t)(random_bits(dice) % limit);
}

/* Headers are where most harm is done. */
static size_t some_place(struct random *dice, size_t size)
{
    const size_t head = 512;
    return below(dice, below(dice, 2) && size > head ? head : size);
}

/* A number of 2 or 4 bytes at the ends of its range, in either byte order. */
static void put_number(struct random *dice, unsigned char *bytes, size_t size)
{
    static const uint32_t numbers[] = {0,      1,       0x7f,       0xff,       0x7fff,
                                       0xffff, 0x10000, 0x7fffffff, 0x80000000, 0xffffffff};
    uint32_t number = numbers[below(dice, sizeof numbers / sizeof *numbers)];
    size_t length = 2 + 2 * below(dice, 2), at = some_place(dice, size);
    bool big_endian = below(dice, 2);
    for (size_t i = 0; i < length && at + i < size; i++) {
        bytes[at + i] = (unsigned char)(number >> 8 * (big_endian ? length - 1 - i : i));
    }
}

static void move_piece(struct random *dice, unsigned char *bytes, size_t size)
{
    size_t from = below(dice, size), to = some_place(dice, size);
    size_t room = size - (from > to ? from : to), length = 1 + below(dice, 64);
    memmove(bytes + to, bytes + from, length < room ? length : room);
}

/* Returns the new size, at least 1. */
static size_t damage(struct random *dice, unsigned char *bytes, size_t size)
{
    for (size_t left = 1 + below(dice, 6); left > 0; left--) {
        switch (below(dice, 8)) {
        case 0:
        case 1:
            bytes[some_place(dice, size)] ^= (unsigned char)(1U << below(dice, 8));
            break;
        case 2:
        case 3:
            bytes[some_place(dice, size)] = (unsigned char)random_bits(dice);
            break;
        case 4:
        case 5:
            put_number(dice, bytes, size);
            break;
        case 6:
            move_piece(dice, bytes, size);
            break;
        default:
            size = below(dice, 4) ? size : 1 + below(dice, size);
        }
    }
    return size;
}

size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t most)
{
    static struct random dice;
    return size > 0 && size <= most ? damage(&dice, data, size) : size;
}

/* By what the target knows of its inputs, if it knows anything. */
static size_t change(struct random *dice, unsigned char *bytes, size_t size)
{
    if (!LLVMFuzzerCustomMutator) {
        return damage(dice, bytes, size);
    }
    for (size_t left = 1 + below(dice, 6); left > 0 && size > 0; left--) {
        size = LLVMFuzzerCustomMutator(bytes, size, MOST_BYTES, (unsigned int)random_bits(dice));
    }
    return size;
}

static int replay(const char *name, int copies)
{
    FILE *file = fopen(name, "rb");
    unsigned char *bytes = malloc(MOST_BYTES), *copy = malloc(MOST_BYTES);
    bool good = file && bytes && copy;
    size_t size = good ? fread(bytes, 1, MOST_BYTES, file) : 0;
    if (good) {
        LLVMFuzzerTestOneInput(bytes, size);
    } else {
        fprintf(stderr, "%s: cannot be read\n", name);
    }
    struct random dice = {size};
    for (int i = 0; good && size > 0 && i < copies; i++) {
        memcpy(copy, bytes, size);
        LLVMFuzzerTestOneInput(copy, change(&dice, copy, size));
    }
    free(bytes);
    free(copy);
    if (file) {
        fclose(file);
    }
    return good ? 0 : 1;
}

int main(int argc, char **argv)
{
    bool damaged = argc > 2 && strcmp(argv[1], "--damaged") == 0;
    int first = damaged ? 3 : 1, copies = damaged ? atoi(argv[2]) : 0;
    int failed = argc <= first;
    for (int i = first; i < argc; i++) {
        failed += replay(argv[i], copies);
    }
    printf("%d inputs, %d damaged copies of each\n", argc - first, copies);
    return failed ? 1 : 0;
}
