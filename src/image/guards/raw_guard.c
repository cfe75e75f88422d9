#include "image/guards/raw_guard.h"

#include "image/guards/back_guard.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum {
    MOST_DIRECTORIES = 100,
    MOST_BELOW = 16,
    MOST_VALUES = 36, /* of one entry that are looked at: a filter pattern of 6 x 6 */
    BELOW = 330,
    FILTER_SIDES = 33421,
    FILTERS = 33422,
    BELOW_CAMERA = 34665
};

/* Types of TIFF 6.0, section 2, as a set. */
enum {
    BYTE = 1 << 1,
    SHORT = 1 << 3,
    LONG = 1 << 4,
    RATIONAL = 1 << 5,
    UNDEFINED = 1 << 7,
    SIGNED_RATIONAL = 1 << 10,
    DIRECTORY = 1 << 13,
    WHOLE = SHORT | LONG,
    LEVEL = SHORT | LONG | RATIONAL
};

/* What entries may be: TIFF 6.0, TIFF/EP and DNG 1.4, with room for what cameras write. */
static const struct rule {
    unsigned tag, types;
    uint32_t least, most; /* values */
    uint32_t low, high;   /* of each value that is a whole number */
    const char *expected;
} rules[] = {
    {256, WHOLE, 1, 1, 1, 1U << 20, "a width"},
    {257, WHOLE, 1, 1, 1, 1U << 20, "a height"},
    {258, WHOLE, 1, 4, 1, 64, "1 to 64 bits a sample"},
    {259, WHOLE, 1, 1, 0, 65535, "a compression"},
    {262, WHOLE, 1, 1, 0, 65535, "a photometric interpretation"},
    {273, LONG | SHORT, 1, 1U << 20, 0, 0xffffffff, "places of strips"},
    {277, WHOLE, 1, 1, 1, 4, "1 to 4 samples a pixel"},
    {279, LONG | SHORT, 1, 1U << 20, 0, 0xffffffff, "lengths of strips"},
    {322, WHOLE, 1, 1, 1, 65535, "a tile width"},
    {323, WHOLE, 1, 1, 1, 65535, "a tile height"},
    {324, LONG, 1, 1U << 20, 0, 0xffffffff, "places of tiles"},
    {BELOW, LONG | DIRECTORY, 1, MOST_BELOW, 0, 0xffffffff, "places of directories"},
    {FILTER_SIDES, SHORT, 2, 2, 1, 8, "the sides of a colour filter pattern"},
    {FILTERS, BYTE | UNDEFINED, 1, MOST_VALUES, 0, 6, "the colours of a filter pattern"},
    {BELOW_CAMERA, LONG | DIRECTORY, 1, 1, 0, 0xffffffff, "the place of the camera's directory"},
    {50706, BYTE, 4, 4, 0, 255, "a DNG version"},
    {50710, BYTE, 1, 4, 0, 6, "the colours of the planes"},
    {50712, SHORT, 1, 65536, 0, 65535, "a linearisation table"},
    {50713, SHORT, 2, 2, 1, 64, "the sides of a pattern of black levels"},
    {50714, LEVEL, 1, 4096, 0, 1U << 24, "black levels"},
    {50715, RATIONAL | SIGNED_RATIONAL, 1, 65535, 0, 0xffffffff, "black levels of columns"},
    {50716, RATIONAL | SIGNED_RATIONAL, 1, 65535, 0, 0xffffffff, "black levels of rows"},
    {50717, WHOLE, 1, 4, 1, 0xffffffff, "white levels"},
    {50721, SIGNED_RATIONAL | RATIONAL, 3, 12, 0, 0xffffffff, "a colour matrix"},
    {50722, SIGNED_RATIONAL | RATIONAL, 3, 12, 0, 0xffffffff, "a colour matrix"},
    {50728, RATIONAL | SHORT, 1, 4, 0, 0xffffffff, "a neutral colour"},
    {50829, WHOLE, 4, 4, 0, 65535, "the sides of the sensor's active area"},
};

struct guard {
    FILE *stream;
    size_t size;
    bool big_endian;
    const char *name;
    int directories; /* looked at so far */
    struct error *err;
};

static uint32_t whole(const struct guard *g, const unsigned char *p, size_t length)
{
    uint32_t value = 0;
    for (size_t i = 0; i < length; i++) {
        value = value << 8 | p[g->big_endian ? i : length - 1 - i];
    }
    return value;
}

static bool read_at(struct guard *g, uint32_t offset, void *out, size_t size)
{
    return offset <= g->size && size <= g->size - offset &&
           fseek(g->stream, (long)offset, SEEK_SET) == 0 && fread(out, 1, size, g->stream) == size;
}

static size_t type_size(unsigned type)
{
    static const unsigned char sizes[] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4};
    return type < sizeof sizes ? sizes[type] : 0;
}

static const struct rule *find_rule(unsigned tag)
{
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        if (rules[i].tag == tag) {
            return &rules[i];
        }
    }
    return NULL;
}

/* The first values of the entry, 0 for those that are no whole numbers. False if they lie outside
 * the file. */
static bool read_values(struct guard *g, const unsigned char entry[12], uint32_t value[MOST_VALUES])
{
    unsigned char bytes[MOST_VALUES * 4];
    unsigned type = whole(g, entry + 2, 2);
    uint32_t count = whole(g, entry + 4, 4), place = whole(g, entry + 8, 4);
    size_t unit = type_size(type), all = unit * count;
    size_t seen = count < MOST_VALUES ? count : MOST_VALUES;
    memset(value, 0, MOST_VALUES * sizeof *value);
    if (all > 4 && (place > g->size || all > g->size - place)) {
        return false;
    }
    if (unit > 4) {
        return true;
    }
    if (all <= 4) {
        memcpy(bytes, entry + 8, 4);
    } else if (!read_at(g, place, bytes, seen * unit)) {
        return false;
    }
    for (size_t i = 0; i < seen; i++) {
        value[i] = whole(g, bytes + i * unit, unit);
    }
    return true;
}

static int check_entry(struct guard *g, const struct rule *rule, const unsigned char entry[12],
                       uint32_t value[MOST_VALUES])
{
    unsigned type = whole(g, entry + 2, 2);
    uint32_t count = whole(g, entry + 4, 4);
    bool good = type < 16 && (rule->types & 1U << type) && count >= rule->least &&
                count <= rule->most && read_values(g, entry, value);
    for (uint32_t i = 0; good && type_size(type) <= 4 && i < count && i < MOST_VALUES; i++) {
        good = value[i] >= rule->low && value[i] <= rule->high;
    }
    return good ? 0
                : error_set(g->err, ERROR_INPUT,
                            "%s: camera raw directory %d, tag %u: expected %s within the file",
                            g->name, g->directories, rule->tag, rule->expected);
}

static int check_chain(struct guard *g, uint32_t offset, int depth);

static int check_below(struct guard *g, const uint32_t value[MOST_VALUES], uint32_t count,
                       int depth)
{
    int code = 0;
    for (uint32_t i = 0; i < count && i < MOST_VALUES && !code && depth < 3; i++) {
        code = check_chain(g, value[i], depth + 1);
    }
    return code;
}

/* The library takes 36 colours where the sides are 6, and at most 16 else, whatever there are. */
static int check_filters(const struct guard *g, uint32_t sides, uint32_t colours)
{
    bool good = sides == colours && (sides == 36 || sides <= 16);
    return good ? 0
                : error_set(g->err, ERROR_INPUT,
                            "%s: camera raw directory %d: expected a colour filter pattern that "
                            "fills its sides",
                            g->name, g->directories);
}

static int check_directory(struct guard *g, uint32_t offset, int entries, int depth)
{
    int code = 0;
    uint32_t sides = 0, colours = 0;
    for (int i = 0; i < entries && !code; i++) {
        unsigned char entry[12];
        uint32_t value[MOST_VALUES] = {0};
        if (!read_at(g, offset + 2 + 12 * (uint32_t)i, entry, sizeof entry)) {
            return error_because(g->err,
                                 error_set(g->err, ERROR_INPUT,
                                           "%s: the file ends early, in directory %d", g->name,
                                           g->directories),
                                 CAUSE_SHORT);
        }
        unsigned tag = whole(g, entry, 2);
        const struct rule *rule = find_rule(tag);
        code = rule ? check_entry(g, rule, entry, value) : 0;
        if (!code && (tag == BELOW || tag == BELOW_CAMERA)) {
            code = check_below(g, value, whole(g, entry + 4, 4), depth);
        }
        sides = tag == FILTER_SIDES ? value[0] * value[1] : sides;
        colours = tag == FILTERS ? whole(g, entry + 4, 4) : colours;
    }
    return code ? code : check_filters(g, sides, colours);
}

/* Directories that follow each other; places beyond the file end the chain, as for LibRaw. */
static int check_chain(struct guard *g, uint32_t offset, int depth)
{
    unsigned char bytes[4];
    int code = 0;
    while (offset != 0 && !code && read_at(g, offset, bytes, 2)) {
        int entries = (int)whole(g, bytes, 2);
        if (++g->directories > MOST_DIRECTORIES) {
            return error_set(g->err, ERROR_INPUT,
                             "%s: expected at most %d directories in a camera raw file; these run "
                             "in a circle",
                             g->name, MOST_DIRECTORIES);
        }
        code = check_directory(g, offset, entries, depth);
        bool more = !code && read_at(g, offset + 2 + 12 * (uint32_t)entries, bytes, 4);
        offset = more ? whole(g, bytes, 4) : 0;
    }
    return code;
}

int raw_guard_check(FILE *stream, size_t size, const char *name, struct error *err)
{
    struct guard g = {.stream = stream, .size = size, .name = name, .err = err};
    unsigned char head[8];
    bool marked = read_at(&g, 0, head, sizeof head) &&
                  (memcmp(head, "II", 2) == 0 || memcmp(head, "MM", 2) == 0);
    g.big_endian = marked && head[0] == 'M';
    unsigned magic = marked ? whole(&g, head + 2, 2) : 0;
    /* 42 and ORF's own; RW2 gives the same numbers other meanings. */
    bool known = magic == 42 || magic == 0x4f52 || magic == 0x5352;
    int code = back_guard_check(stream, size, name, err);
    return code || !known ? code : check_chain(&g, whole(&g, head + 4, 4), 0);
}
