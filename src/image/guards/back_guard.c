#include "image/guards/back_guard.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* Of entries that are 16 and 12 bytes long; META is the place of the second directory. */
enum { HEAD = 32, MOST_ENTRIES = 1000, META = 0x110 };

struct back {
    FILE *stream;
    uint64_t size;
    bool big_endian;
};

static bool read_whole(uint32_t *value, const struct back *b, uint64_t place)
{
    unsigned char p[4];
    if (place > b->size || b->size - place < 4 || fseek(b->stream, (long)place, SEEK_SET) != 0 ||
        fread(p, 1, 4, b->stream) != 4) {
        return false;
    }
    *value = b->big_endian
                 ? (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]
                 : (uint32_t)p[3] << 24 | (uint32_t)p[2] << 16 | (uint32_t)p[1] << 8 | p[0];
    return true;
}

/* In the library's order: the big-endian mark anywhere goes before the other. -1: none. */
static int find_mark(const unsigned char head[HEAD])
{
    static const char *const marks[] = {"MMMM", "IIII"};
    for (int k = 0; k < 2; k++) {
        for (int i = 0; i + 4 <= HEAD; i++) {
            if (memcmp(head + i, marks[k], 4) == 0) {
                return i;
            }
        }
    }
    return -1;
}

/* The directory whose place, counted from base, stands at base + 8; *first gets its first entry. */
static bool check_directory(uint64_t *first, uint32_t *entries, const struct back *b, uint64_t base)
{
    uint32_t offset;
    if (!read_whole(&offset, b, base + 8) || !read_whole(entries, b, base + offset)) {
        return false;
    }
    *first = base + offset + 8;
    return *entries <= MOST_ENTRIES;
}

/* The second directory has a mark of its own for the order of its bytes. */
static bool check_meta(const struct back *b, uint64_t base)
{
    struct back meta = {.stream = b->stream, .size = b->size};
    uint64_t ignored;
    uint32_t mark, entries;
    if (!read_whole(&mark, &meta, base)) {
        return false;
    }
    meta.big_endian = (mark & 0xffff) != 0x4949;
    return check_directory(&ignored, &entries, &meta, base);
}

static bool check_both(const struct back *b, uint64_t base)
{
    uint64_t first, meta = 0;
    uint32_t entries, tag, place;
    if (!check_directory(&first, &entries, b, base)) {
        return false;
    }
    for (uint32_t i = 0; i < entries; i++) {
        if (!read_whole(&tag, b, first + 16 * i) || !read_whole(&place, b, first + 16 * i + 12)) {
            return false;
        }
        meta = tag == META ? base + place : meta;
    }
    return meta != 0 && check_meta(b, meta);
}

int back_guard_check(FILE *stream, size_t size, const char *name, struct error *err)
{
    unsigned char head[HEAD] = {0};
    struct back back = {.stream = stream, .size = size};
    uint32_t mark;
    rewind(stream);
    int base = fread(head, 1, HEAD, stream) > 0 ? find_mark(head) : -1;
    if (base < 0) {
        return 0;
    }
    back.big_endian = head[base] == 'M';
    bool meant = read_whole(&mark, &back, (uint64_t)base + 4) && mark >> 8 == 0x526177; /* "Raw" */
    return !meant || check_both(&back, (uint64_t)base)
               ? 0
               : error_set(err, ERROR_INPUT,
                           "%s: a digital back's file; expected its two directories within it",
                           name);
}
