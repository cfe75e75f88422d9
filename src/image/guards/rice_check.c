#include "image/guards/rice_check.h"

#include <stdint.h>

/* The next bits, from the highest down; those past the end are 0. */
struct bits {
    const unsigned char *next, *end;
    uint64_t window;
    int left;  /* in the window */
    bool over; /* more was taken than there is */
};

/* Eight bytes, the first one highest; compilers know this as one load. */
static uint64_t load(const unsigned char *p)
{
    return (uint64_t)p[0] << 56 | (uint64_t)p[1] << 48 | (uint64_t)p[2] << 40 |
           (uint64_t)p[3] << 32 | (uint64_t)p[4] << 24 | (uint64_t)p[5] << 16 |
           (uint64_t)p[6] << 8 | (uint64_t)p[7];
}

/* Fills the window to at least 57 bits while there are bytes. */
static void refill(struct bits *b)
{
    if (b->end - b->next >= 8 && b->left < 56) {
        int more = (63 - b->left) / 8;
        b->window |= load(b->next) >> b->left;
        b->next += more;
        b->left += 8 * more;
        b->window &= ~UINT64_C(0) << (64 - b->left); /* part of a byte comes again */
        return;
    }
    while (b->left <= 56 && b->next < b->end) {
        b->window |= (uint64_t)*b->next++ << (56 - b->left);
        b->left += 8;
    }
}

/* Takes up to 32 bits. */
static unsigned take(struct bits *b, int count)
{
    if (b->left < count) {
        refill(b);
    }
    if (b->left < count) {
        b->over = true;
        return 0;
    }
    unsigned value = count > 0 ? (unsigned)(b->window >> (64 - count)) : 0;
    b->window <<= count;
    b->left -= count;
    return value;
}

/* Skips zeros and the one that ends them. */
static void take_run(struct bits *b)
{
    while (b->window == 0) {
        b->left = 0;
        if (b->next == b->end) {
            b->over = true;
            return;
        }
        refill(b);
    }
    int zeros = __builtin_clzll(b->window);
    b->window = b->window << zeros << 1;
    b->left -= zeros + 1;
}

/* One pixel: zeros that end in a one, then split bits. */
static void take_pixel(struct bits *b, int split)
{
    if (b->left < 40) { /* most codes are far shorter */
        refill(b);
    }
    int length = b->window ? __builtin_clzll(b->window) + 1 + split : 64;
    if (length <= b->left && length < 64) {
        b->window <<= length;
        b->left -= length;
    } else {
        take_run(b);
        take(b, split);
    }
}

bool rice_check(const unsigned char *bytes, size_t size, long pixels, int pixel_bytes, int block)
{
    const int split_bits = pixel_bytes == 1 ? 3 : pixel_bytes == 2 ? 4 : 5;
    const int most = pixel_bytes == 1 ? 6 : pixel_bytes == 2 ? 14 : 25;
    struct bits b = {bytes, bytes + size, 0, 0, false};
    take(&b, 8 * pixel_bytes); /* the first pixel */
    for (long done = 0; done < pixels && !b.over; done += block) {
        long count = pixels - done < block ? pixels - done : block;
        int split = (int)take(&b, split_bits) - 1;
        for (long i = 0; i < count && split >= 0 && !b.over; i++) {
            if (split == most) { /* too noisy to code: plain differences */
                take(&b, 8 * pixel_bytes);
            } else {
                take_pixel(&b, split);
            }
        }
    }
    return !b.over;
}
