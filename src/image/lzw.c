#include "image/lzw.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { HEAD = 3, LEAST_BITS = 9, MOST_BITS = 16, FORGET = 256, CODES = 1 << MOST_BITS };

/* Strings are known by the code of all but their last byte, and that byte. */
struct lzw {
    const unsigned char *bytes;
    size_t bits, at, group; /* bits in all, where the next code and the group of it begin */
    int width, most_width;
    bool forgets; /* code 256 empties the table */
    unsigned free;
    uint16_t before[CODES];
    unsigned char last[CODES], string[CODES];
    unsigned char *out;
    size_t length, room, most;
};

bool lzw_recognise(const unsigned char *head, size_t size)
{
    return size >= HEAD && head[0] == 0x1f && head[1] == 0x9d;
}

/* Codes of another width begin with a new group. */
static void set_width(struct lzw *z, int width)
{
    size_t group = 8 * (size_t)z->width;
    z->at = z->group + (z->at - z->group + group - 1) / group * group;
    z->group = z->at;
    z->width = width;
}

/* False at the end. */
static bool take_code(unsigned *code, struct lzw *z)
{
    if (z->free > (1U << z->width) - 1 && z->width < z->most_width) {
        set_width(z, z->width + 1);
    }
    if (z->at + (size_t)z->width > z->bits) {
        return false;
    }
    *code = 0;
    for (int i = 0; i < z->width; i++, z->at++) {
        *code |= ((unsigned)z->bytes[z->at / 8] >> z->at % 8 & 1U) << i;
    }
    return true;
}

static enum lzw_end append(struct lzw *z, const unsigned char *string, size_t count)
{
    if (count > z->most - z->length) {
        return LZW_TOO_LONG;
    }
    if (count > z->room - z->length) {
        size_t room = 2 * z->room + count;
        unsigned char *grown = realloc(z->out, room);
        if (!grown) {
            return LZW_NO_MEMORY;
        }
        z->out = grown;
        z->room = room;
    }
    memcpy(z->out + z->length, string, count);
    z->length += count;
    return LZW_WHOLE;
}

/* Writes the string of the code to the end of z->string; returns where it begins. */
static size_t spell(struct lzw *z, unsigned code, size_t end)
{
    for (; code >= 256; code = z->before[code]) {
        z->string[--end] = z->last[code];
    }
    z->string[--end] = (unsigned char)code;
    return end;
}

/* The code just to be made is the string before it and that one's first byte. */
static enum lzw_end take_string(struct lzw *z, unsigned code, unsigned before)
{
    bool is_new = code == z->free;
    if (code > z->free || (is_new && z->free == CODES)) {
        return LZW_DAMAGED;
    }
    size_t first = spell(z, is_new ? before : code, is_new ? CODES - 1 : CODES);
    z->string[CODES - 1] = is_new ? z->string[first] : z->string[CODES - 1];
    if (z->free < 1U << z->most_width) {
        z->before[z->free] = (uint16_t)before;
        z->last[z->free++] = z->string[first];
    }
    return append(z, z->string + first, CODES - first);
}

static enum lzw_end take_all(struct lzw *z)
{
    unsigned before = 0, code;
    enum lzw_end end = LZW_WHOLE;
    if (!take_code(&before, z) || before > 255) {
        return LZW_DAMAGED;
    }
    z->string[0] = (unsigned char)before;
    end = append(z, z->string, 1);
    while (end == LZW_WHOLE && take_code(&code, z)) {
        if (code == FORGET && z->forgets) {
            set_width(z, LEAST_BITS);
            z->free = FORGET; /* the next code makes a string that nobody uses */
        } else {
            end = z->forgets && z->free == FORGET && code > 255 ? LZW_DAMAGED
                                                                : take_string(z, code, before);
            before = code;
        }
    }
    return end;
}

static enum lzw_end finish(unsigned char **out, size_t *length, struct lzw *z, size_t slack)
{
    unsigned char *fitting = realloc(z->out, z->length + slack);
    if (!fitting) {
        return LZW_NO_MEMORY;
    }
    memset(fitting + z->length, 0, slack);
    *out = fitting;
    *length = z->length;
    z->out = NULL;
    return LZW_WHOLE;
}

enum lzw_end lzw_unpack(unsigned char **out, size_t *length, const unsigned char *bytes,
                        size_t size, size_t most, size_t slack)
{
    *out = NULL;
    if (!lzw_recognise(bytes, size)) {
        return LZW_DAMAGED;
    }
    int most_width = bytes[2] & 31;
    if (most_width < LEAST_BITS || most_width > MOST_BITS) {
        return LZW_DAMAGED;
    }
    struct lzw *z = calloc(1, sizeof *z);
    if (!z) {
        return LZW_NO_MEMORY;
    }
    z->bytes = bytes + HEAD;
    z->bits = 8 * (size - HEAD);
    z->width = LEAST_BITS;
    z->most_width = most_width;
    z->forgets = (bytes[2] & 0x80) != 0;
    z->free = z->forgets ? FORGET + 1 : FORGET;
    z->most = most;
    enum lzw_end end = take_all(z);
    end = end == LZW_WHOLE ? finish(out, length, z, slack) : end;
    free(z->out);
    free(z);
    return end;
}
