#include "image/samples.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* One loop a kind; the bytes need not be aligned. */
#define DEFINE_CONVERT(name, type)                                                                 \
    static void convert_##name(float *restrict line, const unsigned char *restrict bytes,          \
                               size_t step, int width)                                             \
    {                                                                                              \
        for (int x = 0; x < width; x++) {                                                          \
            type value;                                                                            \
            memcpy(&value, bytes + (size_t)x * step, sizeof value);                                \
            line[x] = (float)value;                                                                \
        }                                                                                          \
    }

DEFINE_CONVERT(u8, uint8_t)
DEFINE_CONVERT(u16, uint16_t)
DEFINE_CONVERT(u32, uint32_t)
DEFINE_CONVERT(s8, int8_t)
DEFINE_CONVERT(s16, int16_t)
DEFINE_CONVERT(s32, int32_t)

static float usable(double value)
{
    return fabs(value) < 1e30 ? (float)value : NAN;
}

/* IEEE 754 binary16: a sign, five bits of exponent, ten of fraction. */
static float half(uint16_t bits)
{
    int exponent = bits >> 10 & 31, fraction = bits & 1023;
    float size = exponent == 31  ? NAN
                 : exponent == 0 ? ldexpf((float)fraction, -24)
                                 : ldexpf((float)(fraction + 1024), exponent - 25);
    return bits & 0x8000 ? -size : size;
}

static void convert_float(float *restrict line, const unsigned char *restrict bytes, size_t step,
                          int width, int bits)
{
    for (int x = 0; x < width; x++) {
        const unsigned char *at = bytes + (size_t)x * step;
        if (bits == 16) {
            uint16_t value;
            memcpy(&value, at, sizeof value);
            line[x] = half(value);
        } else if (bits == 32) {
            float value;
            memcpy(&value, at, sizeof value);
            line[x] = usable((double)value);
        } else {
            double value;
            memcpy(&value, at, sizeof value);
            line[x] = usable(value);
        }
    }
}

void samples_to_float(float *line, const unsigned char *bytes, size_t step, int width,
                      enum sample_kind kind, int bits)
{
    static void (*const whole[2][3])(float *restrict, const unsigned char *restrict, size_t,
                                     int) = {{convert_u8, convert_u16, convert_u32},
                                             {convert_s8, convert_s16, convert_s32}};
    if (kind == SAMPLE_FLOAT) {
        convert_float(line, bytes, step, width, bits);
    } else {
        whole[kind == SAMPLE_SIGNED][bits == 8 ? 0 : bits == 16 ? 1 : 2](line, bytes, step, width);
    }
}
