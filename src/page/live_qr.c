#include "page/live_qr.h"

#include <qrencode.h>
#include <stdbool.h>
#include <string.h>

enum { QUIET = 4 }; /* modules of margin, as the standard asks for */

static bool is_light(const QRcode *code, int x, int y)
{
    bool inside = x >= 0 && y >= 0 && x < code->width && y < code->width;
    return !inside || !(code->data[y * code->width + x] & 1);
}

int live_qr_write(FILE *out, const char *text, struct error *err)
{
    static const char *const block[2][2] = {{" ", "▄"}, {"▀", "█"}};
    QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_L, QR_MODE_8, 1);
    if (!code) {
        return error_set(err, ERROR_USAGE, "the address is too long for a QR code: %.80s", text);
    }
    for (int y = -QUIET; y < code->width + QUIET; y += 2) {
        fputs("  ", out);
        for (int x = -QUIET; x < code->width + QUIET; x++) {
            bool below = y + 1 < code->width + QUIET && is_light(code, x, y + 1);
            fputs(block[is_light(code, x, y)][below], out);
        }
        fputc('\n', out);
    }
    QRcode_free(code);
    return 0;
}
