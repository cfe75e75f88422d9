#include "stack/starlet.h"

#include "base/large.h"
#include "base/median.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SORTED = 20000 };
static const float significance = 3;

/* A place beyond an edge is as one within it, as in a mirror. */
static int mirror(int i, int n)
{
    i = i < 0 ? -i : i;
    i = i >= n ? 2 * (n - 1) - i : i;
    return i < 0 ? 0 : i >= n ? n - 1 : i;
}

/* Weights 1, 4, 6, 4, 1 over 16 of pixels that are so far apart. */
static void smooth_rows(float *restrict out, const float *restrict in, int width, int height,
                        int apart)
{
    for (int y = 0; y < height; y++) {
        const float *row[5];
        for (int k = 0; k < 5; k++) {
            row[k] = in + (size_t)mirror(y + (k - 2) * apart, height) * (size_t)width;
        }
        float *to = out + (size_t)y * (size_t)width;
        for (int x = 0; x < width; x++) {
            to[x] = (row[0][x] + row[4][x] + 4 * (row[1][x] + row[3][x]) + 6 * row[2][x]) / 16;
        }
    }
}

static void smooth_columns(float *restrict row, float *restrict spare, int width, int apart)
{
    memcpy(spare, row, (size_t)width * sizeof *row);
    for (int x = 0; x < width; x++) {
        float far = spare[mirror(x - 2 * apart, width)] + spare[mirror(x + 2 * apart, width)];
        float near = spare[mirror(x - apart, width)] + spare[mirror(x + apart, width)];
        row[x] = (far + 4 * near + 6 * spare[x]) / 16;
    }
}

/* The usual size of details, as the deviation of even noise. */
static float find_noise(const float *fine, const float *coarse, size_t n, double *sorted)
{
    size_t step = n / SORTED + 1;
    int count = 0;
    for (size_t i = 0; i < n && count < SORTED; i += step) {
        sorted[count++] = (double)fabsf(fine[i] - coarse[i]);
    }
    return (float)(1.4826 * median_of(sorted, count));
}

/* Adds to kept what counts of the details between two pictures. */
static void keep(float *kept, const float *fine, const float *coarse, size_t n, float noise)
{
    float least = significance * significance * noise * noise;
    for (size_t i = 0; i < n; i++) {
        float d = fine[i] - coarse[i];
        kept[i] += d * d > 0 ? d * (d * d / (d * d + least)) : 0;
    }
}

int starlet_clean(float *value, int width, int height, int scales, struct error *err)
{
    size_t n = (size_t)width * (size_t)height;
    float *kept = large_alloc(n * sizeof *kept), *coarse = large_alloc(n * sizeof *coarse);
    float *spare = malloc((size_t)width * sizeof *spare);
    double *sorted = malloc(SORTED * sizeof *sorted);
    int code = kept && coarse && spare && sorted ? 0 : error_memory(err);
    for (size_t i = 0; !code && i < n; i++) {
        kept[i] = 0;
    }
    for (int scale = 0; !code && scale < scales; scale++) {
        int apart = 1 << scale;
        smooth_rows(coarse, value, width, height, apart);
        for (int y = 0; y < height; y++) {
            smooth_columns(coarse + (size_t)y * (size_t)width, spare, width, apart);
        }
        keep(kept, value, coarse, n, find_noise(value, coarse, n, sorted));
        memcpy(value, coarse, n * sizeof *value);
    }
    for (size_t i = 0; !code && i < n; i++) {
        value[i] += kept[i];
    }
    free(kept);
    free(coarse);
    free(spare);
    free(sorted);
    return code;
}
