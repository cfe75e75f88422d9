#include "demo/value_noise.h"

#include "base/random.h"

#include <math.h>

static double corner(uint64_t seed, long i, long j)
{
    struct random random = {seed + (uint64_t)i * 0x8da6b343u + (uint64_t)j * 0xd8163841u};
    return random_uniform(&random);
}

static double ease(double t)
{
    return t * t * (3 - 2 * t);
}

static double one_octave(uint64_t seed, double x, double y)
{
    double left = floor(x), top = floor(y), s = ease(x - left), t = ease(y - top);
    long i = (long)left, j = (long)top;
    double upper = corner(seed, i, j) * (1 - s) + corner(seed, i + 1, j) * s;
    double lower = corner(seed, i, j + 1) * (1 - s) + corner(seed, i + 1, j + 1) * s;
    return upper * (1 - t) + lower * t;
}

double value_noise(uint64_t seed, double x, double y, int octaves)
{
    double sum = 0, weight = 1, total = 0;
    for (int i = 0; i < octaves; i++) {
        sum += weight * one_octave(seed + (uint64_t)i, x, y);
        total += weight;
        weight /= 2;
        x *= 2;
        y *= 2;
    }
    return sum / total;
}
