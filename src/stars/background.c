#include "stars/background.h"

#include "base/clamp.h"
#include "base/large.h"
#include "base/median.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <sep.h>

#define RUN 8 /* pixels over which a level is taken as straight */

/* Takes from odd and even columns and rows alike, lest a pattern of the sensor hide: every row of
 * the result mixes as many of the plane as the step has. */
static float *thin_out(const float *value, int width, int height, int step, int *columns, int *rows)
{
    *columns = width / step;
    *rows = height / step;
    float *thin = large_alloc((size_t)*columns * (size_t)*rows * sizeof *thin);
    for (int y = 0; thin && y < *rows; y++) {
        float *to = thin + (size_t)y * (size_t)*columns;
        for (int mixed = 0; mixed < step; mixed++) {
            const float *from = value + (size_t)(y * step + mixed) * (size_t)width + y % step;
            for (int x = mixed; x < *columns; x += step) {
                float v = from[x * step];
                to[x] = isfinite(v) ? v : NAN;
            }
        }
    }
    return thin;
}

static int copy_mesh(struct background *b, const sep_bkg *map, struct error *err)
{
    size_t n = (size_t)map->n;
    b->columns = map->nx;
    b->rows = map->ny;
    b->level = malloc(n * sizeof *b->level);
    b->noise = malloc(n * sizeof *b->noise);
    double *sorted = malloc(n * sizeof *sorted);
    if (!b->level || !b->noise || !sorted) {
        free(sorted);
        return error_memory(err);
    }
    /* A plane without one good cell leaves SEP's own markers behind. */
    for (size_t i = 0; i < n; i++) {
        bool good = map->sigma[i] >= 0 && fabsf(map->back[i]) < 1e29F;
        b->level[i] = good ? map->back[i] : 0;
        b->noise[i] = good ? map->sigma[i] : 0;
        sorted[i] = (double)b->level[i];
    }
    b->typical_level = median_of(sorted, map->n);
    for (size_t i = 0; i < n; i++) {
        sorted[i] = (double)b->noise[i];
    }
    b->typical_noise = median_of(sorted, map->n);
    free(sorted);
    return 0;
}

int background_measure(struct background *b, const float *value, int width, int height, int mesh,
                       int step, struct error *err)
{
    memset(b, 0, sizeof *b);
    int columns, rows, cell = mesh / step < 4 ? 4 : mesh / step;
    float *thin = thin_out(value, width, height, step, &columns, &rows);
    sep_image image = {.data = thin, .dtype = SEP_TFLOAT, .w = columns, .h = rows};
    sep_bkg *map = NULL;
    int code = 0;
    if (!thin || sep_background(&image, cell, cell, 3, 3, 0, &map)) {
        code = error_memory(err);
    } else {
        b->cell = cell * step;
        code = copy_mesh(b, map, err);
    }
    sep_bkg_free(map);
    free(thin);
    if (code) {
        background_free(b);
    }
    return code;
}

/* Between the two rows of nodes above and below a row of the plane. */
struct between {
    const float *upper, *lower;
    double part; /* of the way down */
};

static struct between rows_around(const struct background *b, const float *node, double y)
{
    double v = clamp((y + 0.5) / b->cell - 0.5, 0, b->rows - 1);
    int j = (int)v;
    const float *upper = node + (size_t)j * (size_t)b->columns;
    struct between rows = {upper, j + 1 < b->rows ? upper + b->columns : upper, v - j};
    return rows;
}

static double along_row(const struct background *b, const struct between *rows, double x)
{
    double u = clamp((x + 0.5) / b->cell - 0.5, 0, b->columns - 1);
    int i = (int)u, next = i + 1 < b->columns ? i + 1 : i;
    const float *upper = rows->upper, *lower = rows->lower;
    double top = (double)upper[i] + (u - i) * (double)(upper[next] - upper[i]);
    double bottom = (double)lower[i] + (u - i) * (double)(lower[next] - lower[i]);
    return top + rows->part * (bottom - top);
}

static double interpolate(const struct background *b, const float *node, double x, double y)
{
    struct between rows = rows_around(b, node, y);
    return along_row(b, &rows, x);
}

double background_level(const struct background *b, double x, double y)
{
    return interpolate(b, b->level, x, y);
}

double background_noise(const struct background *b, double x, double y)
{
    return interpolate(b, b->noise, x, y);
}

void background_subtract(float *value, int width, int height, const struct background *b)
{
    for (int y = 0; y < height; y++) {
        float *row = value + (size_t)y * (size_t)width;
        struct between rows = rows_around(b, b->level, y);
        double left = along_row(b, &rows, 0);
        for (int x = 0; x < width; x += RUN) {
            double right = along_row(b, &rows, x + RUN), step = (right - left) / RUN;
            float sky[RUN];
            for (int i = 0; i < RUN; i++) {
                sky[i] = (float)(left + step * i);
            }
            int n = width - x < RUN ? width - x : RUN;
            for (int i = 0; i < n; i++) {
                row[x + i] -= sky[i];
            }
            left = right;
        }
    }
}

void background_free(struct background *b)
{
    free(b->level);
    free(b->noise);
    memset(b, 0, sizeof *b);
}
