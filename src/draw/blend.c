#include "draw/blend.h"

#include <string.h>

/* Luminance of sRGB values (ITU-R BT.709 weights, in 1/256) is what eyes that see only red get. */
static unsigned red_light(unsigned red, unsigned green, unsigned blue)
{
    return (54 * red + 183 * green + 19 * blue) >> 8;
}

/* Red light alone is brightness, which no profile of the three colours tells. */
const unsigned char *blend_profile(const struct blend *blend, size_t *size)
{
    bool kept = blend->picture && blend->picture->profile && !blend->red;
    *size = kept ? blend->picture->profile_size : 0;
    return kept ? blend->picture->profile : NULL;
}

int blend_depth(const struct blend *blend)
{
    return blend->picture && blend->picture->deep ? 16 : 8;
}

static void picture_row_8(unsigned char *out, const struct blend *blend, int y)
{
    const struct picture *picture = blend->picture;
    size_t values = (size_t)blend->width * 3, start = (size_t)y * values;
    if (!picture) {
        memset(out, 0, values);
    } else if (picture->deep) {
        for (size_t i = 0; i < values; i++) {
            out[i] = (unsigned char)(picture->deep[start + i] >> 8);
        }
    } else {
        memcpy(out, picture->rgb + start, values);
    }
    for (size_t i = 0; blend->red && i < values; i += 3) {
        out[i] = (unsigned char)red_light(out[i], out[i + 1], out[i + 2]);
        out[i + 1] = out[i + 2] = 0;
    }
}

static void picture_row_16(uint16_t *out, const struct blend *blend, int y)
{
    size_t values = (size_t)blend->width * 3;
    memcpy(out, blend->picture->deep + (size_t)y * values, values * sizeof *out);
    for (size_t i = 0; blend->red && i < values; i += 3) {
        out[i] = (uint16_t)red_light(out[i], out[i + 1], out[i + 2]);
        out[i + 1] = out[i + 2] = 0;
    }
}

/* Channel 0..2 of a cairo pixel: red, green, blue, multiplied by alpha. */
static unsigned channel_of(uint32_t pixel, int channel)
{
    return pixel >> (16 - 8 * channel) & 0xff;
}

void blend_row_8(unsigned char *out, const struct blend *blend, int y)
{
    const uint32_t *drawn = blend->canvas ? canvas_row(blend->canvas, y) : NULL;
    picture_row_8(out, blend, y);
    for (int x = 0; drawn && x < blend->width; x++) {
        unsigned clear = 255 - (drawn[x] >> 24);
        for (int c = 0; clear < 255 && c < 3; c++) {
            unsigned char *value = &out[3 * x + c];
            *value = (unsigned char)(channel_of(drawn[x], c) + (*value * clear + 127) / 255);
        }
    }
}

void blend_row_16(uint16_t *out, const struct blend *blend, int y)
{
    const uint32_t *drawn = blend->canvas ? canvas_row(blend->canvas, y) : NULL;
    picture_row_16(out, blend, y);
    for (int x = 0; drawn && x < blend->width; x++) {
        unsigned clear = 255 - (drawn[x] >> 24);
        for (int c = 0; clear < 255 && c < 3; c++) {
            uint16_t *value = &out[3 * x + c];
            *value = (uint16_t)(257 * channel_of(drawn[x], c) + (*value * clear + 127) / 255);
        }
    }
}

void blend_row_alpha(unsigned char *out, const struct blend *blend, int y)
{
    const uint32_t *drawn = canvas_row(blend->canvas, y);
    for (int x = 0; x < blend->width; x++) {
        unsigned alpha = drawn[x] >> 24;
        for (int c = 0; c < 3; c++) {
            unsigned value = alpha ? (channel_of(drawn[x], c) * 255 + alpha / 2) / alpha : 0;
            out[4 * x + c] = (unsigned char)(value < 255 ? value : 255);
        }
        out[4 * x + 3] = (unsigned char)alpha;
    }
}
