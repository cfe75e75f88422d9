#include "draw/html.h"

#include "base/utf8.h"

#include <stdint.h>
#include <string.h>

void html_write(FILE *out, const char *text)
{
    while (*text) {
        size_t length = utf8_length(text);
        if (length == 0 || utf8_is_control(utf8_code(text, length))) {
            fprintf(out, "\\x%02X", (unsigned char)*text++);
        } else if (strchr("<>&\"'`", *text)) {
            fprintf(out, "&#%d;", *text++);
        } else {
            fwrite(text, 1, length, out);
            text += length;
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
