#include "stack/starlet.h"

#include "base/large.h"
#include "base/median.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SORTED = 20000 };
/* Details whose mean square is so many times that of noise begin to count. */
static const float significance = 2;

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

static void smooth(float *restrict out, const float *restrict in, float *spare, int width,
                   int height, int apart)
{
    smooth_rows(out, in, width, height, apart);
    for (int y = 0; y < height; y++) {
        smooth_columns(out + (size_t)y * (size_t)width, spare, width, apart);
    }
}

int starlet_smooth(float *value, int width, int height, int apart, struct error *err)
{
    size_t n = (size_t)width * (size_t)height;
    float *out = large_alloc(n * sizeof *out), *spare = malloc((size_t)width * sizeof *spare);
    int code = out && spare ? 0 : error_memory(err);
    if (!code) {
        smooth(out, value, spare, width, height, apart);
        memcpy(value, out, n * sizeof *value);
    }
    free(out);
    free(spare);
    return code;
}

/* Rooms of the size of the picture, and of a row. */
struct cleaning {
    float *kept, *coarse, *square, *energy, *row;
    double *sorted;
};

/* Adds to kept what counts of the details of one size, and leaves the coarse picture in value. */
static void clean_scale(struct cleaning *c, float *value, int width, int height, int apart)
{
    size_t n = (size_t)width * (size_t)height;
    smooth(c->coarse, value, c->row, width, height, apart);
    float noise = find_noise(value, c->coarse, n, c->sorted);
    float least = significance * noise * noise;
    for (size_t i = 0; i < n; i++) {
        c->square[i] = (value[i] - c->coarse[i]) * (value[i] - c->coarse[i]);
    }
    smooth(c->energy, c->square, c->row, width, height, apart);
    for (size_t i = 0; i < n; i++) {
        float detail = value[i] - c->coarse[i];
        c->kept[i] += c->energy[i] > least ? detail * (1 - least / c->energy[i]) : 0;
        value[i] = c->coarse[i];
    }
}

static int make_room(struct cleaning *c, size_t n, size_t width, struct error *err)
{
    c->kept = large_alloc(n * sizeof *c->kept);
    c->coarse = large_alloc(n * sizeof *c->coarse);
    c->square = large_alloc(n * sizeof *c->square);
    c->energy = large_alloc(n * sizeof *c->energy);
    c->row = malloc(width * sizeof *c->row);
    c->sorted = malloc(SORTED * sizeof *c->sorted);
    for (size_t i = 0; c->kept && i < n; i++) {
        c->kept[i] = 0;
    }
    return c->kept && c->coarse && c->square && c->energy && c->row && c->sorted
               ? 0
               : error_memory(err);
}

int starlet_clean(float *value, int width, int height, int scales, struct error *err)
{
    size_t n = (size_t)width * (size_t)height;
    struct cleaning c = {0};
    int code = make_room(&c, n, (size_t)width, err);
    for (int scale = 0; !code && scale < scales; scale++) {
        clean_scale(&c, value, width, height, 1 << scale);
    }
    for (size_t i = 0; !code && i < n; i++) {
        value[i] += c.kept[i];
    }
    free(c.kept);
    free(c.coarse);
    free(c.square);
    free(c.energy);
    free(c.row);
    free(c.sorted);
    return code;
}
