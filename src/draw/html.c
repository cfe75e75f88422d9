#include "draw/html.h"

#include <stdint.h>
#include <string.h>

/* Length of the character of UTF-8 at s (RFC 3629), 0 if there is none or it is a control. */
static int character_length(const unsigned char *s)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    int length = s[0] < 0x80       ? 1
                 : s[0] >> 5 == 6  ? 2
                 : s[0] >> 4 == 14 ? 3
                 : s[0] >> 3 == 30 ? 4
                                   : 0;
    uint32_t code = length > 1 ? s[0] & (0x7fU >> length) : s[0];
    for (int i = 1; i < length; i++) {
        if ((s[i] & 0xc0) != 0x80) {
            return 0;
        }
        code = code << 6 | (s[i] & 0x3fU);
    }
    if (length == 0 || code < 0x20 || (code >= 0x7f && code < 0xa0) || code > 0x10ffff ||
        (code >= 0xd800 && code < 0xe000) || (length > 1 && code < least[length]) ||
        (code >= 0x202a && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069)) {
        return 0; /* also what turns the direction of writing */
    }
    return length;
}

void html_write(FILE *out, const char *text)
{
    const unsigned char *s = (const unsigned char *)text;
    while (*s) {
        int length = character_length(s);
        if (length == 0) {
            fprintf(out, "\\x%02X", *s++);
        } else if (strchr("<>&\"'`", *s)) {
            fprintf(out, "&#%d;", *s++);
        } else {
            fwrite(s, 1, (size_t)length, out);
            s += length;
        }
    }
}

void html_write_base64(FILE *out, const unsigned char *bytes, size_t size)
{
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        uint32_t three = (uint32_t)bytes[i] << 16;
        three |= i + 1 < size ? (uint32_t)bytes[i + 1] << 8 : 0;
        three |= i + 2 < size ? bytes[i + 2] : 0;
        fputc(digit[three >> 18], out);
        fputc(digit[three >> 12 & 63], out);
        fputc(i + 1 < size ? digit[three >> 6 & 63] : '=', out);
        fputc(i + 2 < size ? digit[three & 63] : '=', out);
    }
}
