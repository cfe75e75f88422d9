#include "image/bayer.h"

#include <string.h>

void bayer_read(struct bayer *bayer, const char *pattern)
{
    static const char letters[] = "RGB";
    bool found[3] = {false, false, false};
    memset(bayer, 0, sizeof *bayer);
    for (int i = 0; i < 4; i++) {
        const char *letter = pattern[i] ? strchr(letters, pattern[i]) : NULL;
        if (!letter) {
            return;
        }
        bayer->colour[i / 2][i % 2] = (int)(letter - letters);
        found[letter - letters] = true;
    }
    bayer->known = found[0] && found[1] && found[2];
}

void bayer_shift(struct bayer *bayer, long columns, long rows)
{
    const struct bayer before = *bayer;
    for (int i = 0; i < 4; i++) {
        bayer->colour[i / 2][i % 2] =
            before.colour[(i / 2 + rows % 2 + 2) % 2][(i % 2 + columns % 2 + 2) % 2];
    }
}

void bayer_colours(float *const colour[3], const struct bayer *bayer, const float *upper,
                   const float *lower, int width)
{
    const float *const row[2] = {upper, lower};
    for (int x = 0; x < width; x += 2) {
        float sum[3] = {0, 0, 0}, count[3] = {0, 0, 0};
        for (int i = 0; i < 4; i++) {
            int column = x + i % 2 < width ? x + i % 2 : x > 1 ? x - 1 : x;
            int c = bayer->colour[i / 2][i % 2];
            sum[c] += row[i / 2][column];
            count[c] += 1;
        }
        for (int c = 0; c < 3; c++) {
            colour[c][x] = sum[c] / count[c];
            colour[c][x + 1 < width ? x + 1 : x] = sum[c] / count[c];
        }
    }
}
