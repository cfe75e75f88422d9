/* match/packed.h: whole numbers of any width in bits, one behind the other, lowest bit first. */
#ifndef ALIDADE_MATCH_PACKED_H
#define ALIDADE_MATCH_PACKED_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* A number of this many bits at most can be read at any bit. */
enum { PACKED_WIDEST = 57, PACKED_SLACK = 8 };

/* How many bits a number needs. */
static inline int packed_width(uint64_t most)
{
    int width = 0;
    for (; most > 0; most >>= 1) {
        width++;
    }
    return width;
}

/* Bytes of count numbers, with PACKED_SLACK behind them that make reading the last one safe. */
static inline uint64_t packed_size(uint64_t count, int width)
{
    return (count * (uint64_t)width + 7) / 8 + PACKED_SLACK;
}

/* The number of width bits (0..PACKED_WIDEST) that begins at a bit; reads 8 bytes. */
static inline uint64_t packed_get(const unsigned char *bytes, uint64_t bit, int width)
{
    const unsigned char *p = bytes + (bit >> 3);
    uint64_t all = (uint64_t)p[0] | (uint64_t)p[1] << 8 | (uint64_t)p[2] << 16 |
                   (uint64_t)p[3] << 24 | (uint64_t)p[4] << 32 | (uint64_t)p[5] << 40 |
                   (uint64_t)p[6] << 48 | (uint64_t)p[7] << 56;
    return all >> (bit & 7) & ((UINT64_C(1) << width) - 1);
}

/* Puts a number into bytes that are zero so far; its inverse, and as many bytes are touched. */
static inline void packed_put(unsigned char *bytes, uint64_t bit, uint64_t value)
{
    unsigned char *p = bytes + (bit >> 3);
#if defined __BYTE_ORDER__ && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
    uint64_t all;
    memcpy(&all, p, sizeof all);
    all |= value << (bit & 7);
    memcpy(p, &all, sizeof all);
#else
    uint64_t all = value << (bit & 7);
    for (int i = 0; i < 8; i++) {
        p[i] = (unsigned char)(p[i] | all >> (8 * i));
    }
#endif
}

#endif
