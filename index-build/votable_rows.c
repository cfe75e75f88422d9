#include "votable_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_ROW = 64 << 20 /* bytes */ };

static const struct {
    const char *name;
    char kind;
    size_t bytes;
} types[] = {
    {"boolean", 'B', 1}, {"bit", 'b', 0},    {"unsignedByte", 'u', 1}, {"short", 's', 2},
    {"int", 'i', 4},     {"long", 'l', 8},   {"char", 'c', 1},         {"unicodeChar", 'U', 2},
    {"float", 'f', 4},   {"double", 'd', 8}, {"floatComplex", 'F', 8}, {"doubleComplex", 'D', 16},
};

/* "10", "*", "3x4*": the last number before a star is only the most there can be. */
static bool read_size(struct votable_field *field, const char *text)
{
    for (const char *p = text; *p && !field->varies;) {
        uint64_t n = 0;
        const char *digits = p;
        for (; *p >= '0' && *p <= '9' && n <= MOST_ROW; p++) {
            n = n * 10 + (uint64_t)(*p - '0');
        }
        bool any = p > digits;
        field->varies = *p == '*';
        p += *p == '*';
        field->items *= any && !field->varies ? n : 1;
        if ((!any && !field->varies) || n > MOST_ROW || field->items > MOST_ROW ||
            (*p && (*p != 'x' || field->varies))) {
            return false;
        }
        p += *p == 'x';
    }
    return true;
}

bool votable_field_read(struct votable_field *field, const char *datatype, const char *arraysize)
{
    *field = (struct votable_field){.items = 1};
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        if (strcmp(types[i].name, datatype) == 0) {
            field->kind = types[i].kind;
            field->item_bytes = types[i].bytes;
        }
    }
    return field->kind && read_size(field, arraysize);
}

static int base64_value(unsigned char c)
{
    if (c >= 'A' && c <= 'Z') {
        return c - 'A';
    }
    if (c >= 'a' && c <= 'z') {
        return c - 'a' + 26;
    }
    if (c >= '0' && c <= '9') {
        return c - '0' + 52;
    }
    return c == '+' ? 62 : c == '/' ? 63 : -1;
}

static bool make_room(struct votable_bytes *bytes, size_t more)
{
    if (bytes->used > 0) {
        memmove(bytes->bytes, bytes->bytes + bytes->used, bytes->size - bytes->used);
        bytes->size -= bytes->used;
        bytes->used = 0;
    }
    if (bytes->size + more > bytes->room) {
        size_t room = 2 * (bytes->size + more) + 65536;
        unsigned char *larger = realloc(bytes->bytes, room);
        if (!larger) {
            return false;
        }
        bytes->bytes = larger;
        bytes->room = room;
    }
    return true;
}

int votable_bytes_add(struct votable_bytes *bytes, const char *text, size_t length,
                      const char *name, struct error *err)
{
    if (!make_room(bytes, length)) {
        return error_memory(err);
    }
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        int value = base64_value(c);
        if (c == ' ' || c == '\n' || c == '\r' || c == '\t') {
            continue;
        }
        if (c == '=') {
            bytes->padded = true;
            continue;
        }
        if (value < 0 || bytes->padded) {
            return error_set(err, ERROR_INPUT, "%s: the rows hold what is not base64", name);
        }
        bytes->bits = bytes->bits << 6 | (uint32_t)value;
        bytes->bit_count += 6;
        if (bytes->bit_count >= 8) {
            bytes->bit_count -= 8;
            bytes->bytes[bytes->size++] = (unsigned char)(bytes->bits >> bytes->bit_count);
        }
    }
    return 0;
}

void votable_bytes_free(struct votable_bytes *bytes)
{
    free(bytes->bytes);
    memset(bytes, 0, sizeof *bytes);
}

static uint64_t read_big(const unsigned char *p, size_t bytes)
{
    uint64_t value = 0;
    for (size_t i = 0; i < bytes; i++) {
        value = value << 8 | p[i];
    }
    return value;
}

int votable_bytes_row(struct votable_cell *cell, struct votable_bytes *bytes,
                      const struct votable_field *field, int count, bool flagged)
{
    const unsigned char *row = bytes->bytes ? bytes->bytes + bytes->used : NULL;
    uint64_t size = bytes->size - bytes->used;
    uint64_t at = flagged ? ((uint64_t)count + 7) / 8 : 0;
    if (at > size || size == 0) {
        return 0;
    }
    for (int i = 0; i < count; i++) {
        uint64_t items = field[i].items;
        if (field[i].varies) {
            if (size - at < 4) {
                return 0;
            }
            items *= read_big(row + at, 4);
            at += 4;
        }
        uint64_t need = field[i].item_bytes ? items * field[i].item_bytes : (items + 7) / 8;
        if (items > MOST_ROW || at + need > MOST_ROW) {
            return -1;
        }
        if (need > size - at) {
            return 0;
        }
        bool missing = flagged && (row[i / 8] >> (7 - i % 8) & 1);
        cell[i] = (struct votable_cell){missing ? NULL : row + at, items};
        at += need;
    }
    if (at == 0) {
        return 0; /* rows without a byte would never end */
    }
    bytes->used += at;
    return 1;
}

double votable_cell_number(const struct votable_cell *cell, const struct votable_field *field,
                           int64_t *whole, bool *is_whole)
{
    *whole = 0;
    *is_whole = false;
    if (!cell->start || cell->items != 1) {
        return NAN;
    }
    uint64_t bits = read_big(cell->start, field->item_bytes);
    uint32_t low = (uint32_t)bits;
    double d;
    float f;
    switch (field->kind) {
    case 'u':
        *whole = (int64_t)bits;
        break;
    case 's':
        *whole = (int16_t)bits;
        break;
    case 'i':
        *whole = (int32_t)bits;
        break;
    case 'l':
        *whole = (int64_t)bits;
        break;
    case 'f':
        memcpy(&f, &low, sizeof f);
        return (double)f;
    case 'd':
        memcpy(&d, &bits, sizeof d);
        return d;
    default:
        return NAN;
    }
    *is_whole = true;
    return (double)*whole;
}
