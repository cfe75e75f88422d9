#include "base/csv.h"

#include <math.h>
#include <string.h>

void csv_write_text(FILE *out, const char *text)
{
    if (!strpbrk(text, ",\"\r\n")) {
        fputs(text, out);
        return;
    }
    fputc('"', out);
    for (; *text; text++) {
        if (*text == '"') {
            fputc('"', out);
        }
        fputc(*text, out);
    }
    fputc('"', out);
}

void csv_add_number(FILE *out, double value, int decimals)
{
    fputc(',', out);
    if (isfinite(value)) {
        fprintf(out, "%.*f", decimals, value);
    }
}
