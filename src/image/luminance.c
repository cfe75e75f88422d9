#include "image/luminance.h"

#include <math.h>

/* One loop a channel count, so that each compiles to straight arithmetic. */
#define DEFINE_LUMINANCE(bits)                                                                     \
    void luminance_##bits(float *restrict line, const uint##bits##_t *restrict row, int width,     \
                          int channels)                                                            \
    {                                                                                              \
        const float third = 1.0F / 3.0F;                                                           \
        if (channels == 1) {                                                                       \
            for (int x = 0; x < width; x++) {                                                      \
                line[x] = (float)row[x];                                                           \
            }                                                                                      \
        } else if (channels == 2) {                                                                \
            for (int x = 0; x < width; x++) {                                                      \
                line[x] = row[2 * x + 1] ? (float)row[2 * x] : NAN;                                \
            }                                                                                      \
        } else if (channels == 3) {                                                                \
            for (int x = 0; x < width; x++) {                                                      \
                line[x] = (float)(row[3 * x] + row[3 * x + 1] + row[3 * x + 2]) * third;           \
            }                                                                                      \
        } else {                                                                                   \
            for (int x = 0; x < width; x++) {                                                      \
                float sum = (float)(row[4 * x] + row[4 * x + 1] + row[4 * x + 2]);                 \
                line[x] = row[4 * x + 3] ? sum * third : NAN;                                      \
            }                                                                                      \
        }                                                                                          \
    }

DEFINE_LUMINANCE(8)
DEFINE_LUMINANCE(16)

void luminance_to_rgb(uint8_t *restrict rgb, const uint8_t *restrict row, int width, int channels)
{
    int green = channels > 2 ? 1 : 0, blue = channels > 2 ? 2 : 0;
    for (int x = 0; x < width; x++) {
        const uint8_t *pixel = row + (long)x * channels;
        rgb[3 * x] = pixel[0];
        rgb[3 * x + 1] = pixel[green];
        rgb[3 * x + 2] = pixel[blue];
    }
}
