#include "image/own_mark.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum {
    MOST_PARTS = 10000
}; /* chunks or segments before the pixels; far more than there ever are */

static uint32_t number_of(const unsigned char *bytes, int length)
{
    uint32_t number = 0;
    for (int i = 0; i < length; i++) {
        number = number << 8 | bytes[i];
    }
    return number;
}

/* Whether the next bytes, length of them, are exactly text. Reads no more than that. */
static bool holds(FILE *file, uint32_t length, const char *text, size_t size)
{
    char found[64];
    return length == size && size <= sizeof found && fread(found, 1, size, file) == size &&
           memcmp(found, text, size) == 0;
}

static bool png_has_mark(FILE *file)
{
    static const char mark[] = OWN_MARK_KEYWORD "\0" OWN_MARK;
    bool found = false;
    unsigned char head[8];
    for (int i = 0; i < MOST_PARTS && fread(head, 1, 8, file) == 8; i++) {
        uint32_t length = number_of(head, 4);
        long start = ftell(file);
        if (memcmp(head + 4, "IDAT", 4) == 0) {
            return found;
        }
        if (memcmp(head + 4, "eXIf", 4) == 0 || length > INT32_MAX) {
            return false;
        }
        found = found ||
                (memcmp(head + 4, "tEXt", 4) == 0 && holds(file, length, mark, sizeof mark - 1));
        if (start < 0 || fseek(file, start + (long)length + 4, SEEK_SET) != 0) {
            return false;
        }
    }
    return false;
}

static bool jpeg_has_mark(FILE *file)
{
    enum { APP1 = 0xe1, COMMENT = 0xfe, SCAN = 0xda };
    bool found = false;
    unsigned char head[4];
    for (int i = 0; i < MOST_PARTS && fread(head, 1, 4, file) == 4 && head[0] == 0xff; i++) {
        uint32_t length = number_of(head + 2, 2);
        long start = ftell(file);
        if (head[1] == SCAN) {
            return found;
        }
        if (head[1] == APP1 || length < 2 || start < 0) {
            return false;
        }
        found =
            found || (head[1] == COMMENT && holds(file, length - 2, OWN_MARK, sizeof OWN_MARK - 1));
        if (fseek(file, start + (long)length - 2, SEEK_SET) != 0) {
            return false;
        }
    }
    return false;
}

bool own_mark_found(const char *name)
{
    static const unsigned char png[] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};
    unsigned char head[8];
    FILE *file = fopen(name, "rb");
    bool found = false;
    if (file && fread(head, 1, sizeof head, file) == sizeof head) {
        if (memcmp(head, png, sizeof png) == 0) {
            found = png_has_mark(file);
        } else if (head[0] == 0xff && head[1] == 0xd8 && fseek(file, 2, SEEK_SET) == 0) {
            found = jpeg_has_mark(file);
        }
    }
    if (file) {
        fclose(file);
    }
    return found;
}
