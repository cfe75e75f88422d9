/* tests/unit/exif_maker.h: EXIF blocks written by hand after TIFF 6.0 and EXIF 2.32. */
#ifndef ALIDADE_TESTS_EXIF_MAKER_H
#define ALIDADE_TESTS_EXIF_MAKER_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum { EXIF_ASCII = 2, EXIF_SHORT = 3, EXIF_LONG = 4, EXIF_RATIONAL = 5, EXIF_BLOCK_MAX = 2048 };

/* One entry. A rational of NaN is written as 0/0. A list ends with tag 0. */
struct exif_tag {
    unsigned tag, type;
    double value;
    const char *text; /* of EXIF_ASCII */
};

struct exif_block {
    unsigned char bytes[EXIF_BLOCK_MAX];
    size_t size;
    size_t data; /* where the next value that needs a place of its own goes, from the TIFF header */
    bool big_endian;
};

static inline void exif_put(struct exif_block *b, size_t at, uint32_t value, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        size_t shift = 8 * (b->big_endian ? length - 1 - i : i);
        b->bytes[6 + at + i] = (unsigned char)(value >> shift);
    }
}

static inline void exif_put_entry(struct exif_block *b, size_t at, const struct exif_tag *tag)
{
    uint32_t count = tag->type == EXIF_ASCII ? (uint32_t)strlen(tag->text) + 1 : 1;
    exif_put(b, at, tag->tag, 2);
    exif_put(b, at + 2, tag->type, 2);
    exif_put(b, at + 4, count, 4);
    if (tag->type == EXIF_SHORT || tag->type == EXIF_LONG) {
        exif_put(b, at + 8, (uint32_t)tag->value, tag->type == EXIF_SHORT ? 2 : 4);
    } else if (tag->type == EXIF_ASCII && count <= 4) {
        memcpy(b->bytes + 6 + at + 8, tag->text, count);
    } else if (tag->type == EXIF_ASCII) {
        exif_put(b, at + 8, (uint32_t)b->data, 4);
        memcpy(b->bytes + 6 + b->data, tag->text, count);
        b->data += count + count % 2;
    } else {
        bool none = isnan(tag->value);
        exif_put(b, at + 8, (uint32_t)b->data, 4);
        exif_put(b, b->data, none ? 0 : (uint32_t)lround(tag->value * 10000), 4);
        exif_put(b, b->data + 4, none ? 0 : 10000, 4);
        b->data += 8;
    }
}

/* A block with the orientation (0: none) in its first directory and the tags in the camera's. */
static inline void exif_make(struct exif_block *b, int orientation, const struct exif_tag *tags,
                             bool big_endian)
{
    uint32_t count = 0, first = orientation ? 2 : 1;
    while (tags && tags[count].tag) {
        count++;
    }
    memset(b, 0, sizeof *b);
    b->big_endian = big_endian;
    memcpy(b->bytes, "Exif\0\0", 6);
    memcpy(b->bytes + 6, big_endian ? "MM" : "II", 2);
    exif_put(b, 2, 42, 2);
    exif_put(b, 4, 8, 4);
    exif_put(b, 8, first, 2);
    uint32_t camera = 8 + 2 + first * 12 + 4;
    b->data = camera + 2 + count * 12 + 4;
    if (orientation) {
        const struct exif_tag tag = {0x0112, EXIF_SHORT, orientation, NULL};
        exif_put_entry(b, 10, &tag);
    }
    const struct exif_tag pointer = {0x8769, EXIF_LONG, camera, NULL};
    exif_put_entry(b, 10 + (first - 1) * 12, &pointer);
    exif_put(b, camera, count, 2);
    for (uint32_t i = 0; i < count; i++) {
        exif_put_entry(b, camera + 2 + i * 12, &tags[i]);
    }
    b->size = 6 + b->data;
}

#endif
