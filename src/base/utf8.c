#include "base/utf8.h"

#include <string.h>

static bool continues(char byte)
{
    return ((unsigned char)byte & 0xc0) == 0x80;
}

/* RFC 3629, section 4: the second byte's range depends on the first. */
static bool second_fits(unsigned char first, char second)
{
    unsigned char s = (unsigned char)second;
    return continues(second) && (first != 0xe0 || s >= 0xa0) && (first != 0xed || s <= 0x9f) &&
           (first != 0xf0 || s >= 0x90) && (first != 0xf4 || s <= 0x8f);
}

size_t utf8_length(const char *text)
{
    unsigned char first = (unsigned char)text[0];
    size_t length = first < 0x80                     ? 1
                    : first >= 0xc2 && first <= 0xdf ? 2
                    : first >= 0xe0 && first <= 0xef ? 3
                    : first >= 0xf0 && first <= 0xf4 ? 4
                                                     : 0;
    if (length > 1 && !second_fits(first, text[1])) {
        return 0;
    }
    for (size_t i = 2; i < length; i++) {
        if (!continues(text[i])) {
            return 0;
        }
    }
    return length;
}

uint32_t utf8_code(const char *text, size_t length)
{
    uint32_t code = (unsigned char)text[0];
    code &= length > 1 ? 0x7fU >> length : 0x7f;
    for (size_t i = 1; i < length; i++) {
        code = code << 6 | ((unsigned char)text[i] & 0x3fU);
    }
    return code;
}

size_t utf8_count(const char *text, size_t bytes)
{
    size_t count = 0;
    for (size_t i = 0; i < bytes; i++) {
        count += !continues(text[i]);
    }
    return count;
}

size_t utf8_cut(const char *text, size_t length)
{
    while (length > 0 && continues(text[length])) {
        length--;
    }
    return length;
}

void utf8_copy(char *out, size_t size, const char *text)
{
    size_t length = strlen(text);
    length = length < size ? length : utf8_cut(text, size - 1);
    memcpy(out, text, length);
    out[length] = '\0';
}

bool utf8_is_control(uint32_t code)
{
    return code < 0x20 || (code >= 0x7f && code < 0xa0) || (code >= 0x202a && code <= 0x202e) ||
           (code >= 0x2066 && code <= 0x2069) || code == 0x200e || code == 0x200f || code == 0x61c;
}

/* What is shown of the next character, or of a byte that is none: *length bytes of the answer,
 * while text goes on by *step. */
static const char *shown_character(size_t *length, size_t *step, const char *text)
{
    size_t bytes = utf8_length(text);
    bool good = bytes > 0 && !utf8_is_control(utf8_code(text, bytes));
    *step = bytes ? bytes : 1;
    *length = good ? bytes : 1;
    return good ? text : "?";
}

void utf8_shown(char *out, size_t size, const char *text)
{
    size_t used = 0, length, step;
    for (; *text; text += step, used += length) {
        const char *shown = shown_character(&length, &step, text);
        if (used + length >= size) {
            break;
        }
        memcpy(out + used, shown, length);
    }
    out[used] = '\0';
}

void utf8_write_shown(FILE *out, const char *text)
{
    size_t length, step;
    for (; *text; text += step) {
        const char *shown = shown_character(&length, &step, text);
        fwrite(shown, 1, length, out);
    }
}
