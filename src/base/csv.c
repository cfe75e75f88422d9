#include "base/csv.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

static bool is_control(char c)
{
    return ((unsigned char)c < 0x20 && c != '\n' && c != '\r' && c != '\t') || c == 0x7f;
}

void csv_write_text(FILE *out, const char *text)
{
    const char *quote = strpbrk(text, ",\"\r\n") ? "\"" : "";
    fprintf(out, "%s%s", quote, *text && strchr("=+-@\t\r\n", *text) ? "'" : "");
    for (; *text; text++) {
        if (*text == '"') {
            fputc('"', out);
        }
        fputc(is_control(*text) ? '?' : *text, out);
    }
    fputs(quote, out);
}

void csv_add_number(FILE *out, double value, int decimals)
{
    fputc(',', out);
    if (isfinite(value)) {
        fprintf(out, "%.*f", decimals, value);
    }
}
