#include "image/guards/hcompress_check.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { HEAD = 2 + 4 + 4 + 4 + 8 + 3, DIRECT = 0, QUADTREE = 15 };

/* Bits from the highest down. */
struct bits {
    const unsigned char *bytes;
    size_t size, at; /* in bits */
    bool over;       /* more was taken than there is */
};

/* A quarter of the transform: differences of one direction, or the sums. */
struct quarter {
    long x, y, width, height;
};

struct codes {
    struct bits bits;
    long width;
    unsigned char *some; /* of the tile: whether a coefficient is not 0, and so has a sign */
    unsigned char *level, *next;
};

static unsigned take(struct bits *b, int count)
{
    unsigned value = 0;
    for (int i = 0; i < count; i++, b->at++) {
        bool inside = b->at / 8 < b->size;
        b->over = b->over || !inside;
        value = value << 1 | (inside ? (unsigned)b->bytes[b->at / 8] >> (7 - b->at % 8) & 1U : 0U);
    }
    return value;
}

/* Which of four neighbours have a bit: a word of a fixed code, shorter for what is more frequent.
 */
static unsigned take_four(struct bits *b)
{
    static const unsigned char five[] = {[8] = 3, [9] = 5, [10] = 10, [11] = 12, [12] = 15};
    static const unsigned char six[] = {[26] = 6, [27] = 7, [28] = 9, [29] = 11, [30] = 13};
    unsigned word = take(b, 3);
    if (word < 4) {
        return 1U << word;
    }
    word = word << 1 | take(b, 1);
    if (word < 13) {
        return five[word];
    }
    word = word << 1 | take(b, 1);
    if (word < 31) {
        return six[word];
    }
    return take(b, 1) ? 14 : 0;
}

/* One level of the tree, of (width + 1) / 2 columns, opened into bits of the level below. */
static void open_level(struct codes *c, long width, long height)
{
    long columns = (width + 1) / 2;
    for (long y = 0; y < height; y++) {
        for (long x = 0; x < width; x++) {
            unsigned four = c->level[y / 2 * columns + x / 2];
            c->next[y * width + x] = four >> (3 - (y % 2 * 2 + x % 2)) & 1U;
        }
    }
    unsigned char *swapped = c->level;
    c->level = c->next;
    c->next = swapped;
}

/* Words of the tree's lower levels follow for each bit that is set, from the last to the first. */
static void take_tree(struct codes *c, const struct quarter *q)
{
    int levels = 0;
    while ((q->width > q->height ? q->width : q->height) > 1L << levels) {
        levels++;
    }
    c->level[0] = (unsigned char)take_four(&c->bits);
    for (int left = levels - 1; left > 0 && !c->bits.over; left--) {
        long width = ((q->width - 1) >> left) + 1, height = ((q->height - 1) >> left) + 1;
        open_level(c, width, height);
        for (long i = width * height - 1; i >= 0; i--) {
            c->level[i] = c->level[i] ? (unsigned char)take_four(&c->bits) : 0;
        }
    }
}

static void note_plane(struct codes *c, const struct quarter *q)
{
    open_level(c, q->width, q->height);
    for (long y = 0; y < q->height; y++) {
        unsigned char *row = c->some + (q->y + y) * c->width + q->x;
        for (long x = 0; x < q->width; x++) {
            row[x] |= c->level[y * q->width + x];
        }
    }
}

static bool take_quarter(struct codes *c, const struct quarter *q, int planes)
{
    long fours = (q->width + 1) / 2 * ((q->height + 1) / 2);
    for (int i = 0; i < planes && !c->bits.over; i++) {
        unsigned kind = take(&c->bits, 4);
        if (kind != DIRECT && kind != QUADTREE) {
            return false;
        }
        for (long k = 0; kind == DIRECT && k < fours && !c->bits.over; k++) {
            c->level[k] = (unsigned char)take(&c->bits, 4);
        }
        if (kind == QUADTREE) {
            take_tree(c, q);
        }
        note_plane(c, q);
    }
    return !c->bits.over;
}

/* The four quarters, a word of zeros, and from the next whole byte on a sign for each that is not
 * 0. */
static bool take_all(struct codes *c, long width, long height, const unsigned char planes[3])
{
    long left = (width + 1) / 2, upper = (height + 1) / 2;
    const struct quarter sums = {0, 0, left, upper}, right = {left, 0, width / 2, upper},
                         below = {0, upper, left, height / 2},
                         both = {left, upper, width / 2, height / 2};
    long signs = 0;
    if (!take_quarter(c, &sums, planes[0]) || !take_quarter(c, &right, planes[1]) ||
        !take_quarter(c, &below, planes[1]) || !take_quarter(c, &both, planes[2]) ||
        take(&c->bits, 4) != 0) {
        return false;
    }
    for (long i = 0; i < width * height; i++) {
        signs += c->some[i];
    }
    return !c->bits.over && (c->bits.at + 7) / 8 + ((size_t)signs + 7) / 8 <= c->bits.size;
}

static long whole(const unsigned char *p)
{
    return (long)((uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]);
}

bool hcompress_check(const unsigned char *bytes, size_t size, long width, long height,
                     int most_bits)
{
    /* The first side in the head is the one that varies slowly. */
    if (size < HEAD || bytes[0] != 0xdd || bytes[1] != 0x99 || width < 4 || height < 4 ||
        whole(bytes + 2) != height || whole(bytes + 6) != width) {
        return false;
    }
    const unsigned char *planes = bytes + HEAD - 3;
    if (planes[0] > most_bits || planes[1] > most_bits || planes[2] > most_bits) {
        return false;
    }
    size_t pixels = (size_t)width * (size_t)height,
           quarter = (pixels + (size_t)(width + height)) / 4 + 1;
    struct codes c = {.bits = {bytes + HEAD, size - HEAD, 0, false}, .width = width};
    unsigned char *room = calloc(pixels + 2 * quarter, 1);
    if (!room) {
        return false;
    }
    c.some = room;
    c.level = room + pixels;
    c.next = c.level + quarter;
    bool good = take_all(&c, width, height, planes);
    free(room);
    return good;
}
