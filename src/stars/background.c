#include "stars/background.h"

#include "base/median.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <sep.h>

#define RUN 8 /* pixels over which a level is taken as straight */

/* Takes from odd and even columns and rows alike, lest a pattern of the sensor hide. */
static float *thin_out(const float *value, int width, int height, int step, int *columns, int *rows)
{
    *columns = width / step;
    *rows = height / step;
    float *thin = malloc((size_t)*columns * (size_t)*rows * sizeof *thin);
    for (int y = 0; thin && y < *rows; y++) {
        float *to = thin + (size_t)y * (size_t)*columns;
        for (int x = 0; x < *columns; x++) {
            size_t row = (size_t)(y * step + x % step), column = (size_t)(x * step + y % step);
            float v = value[row * (size_t)width + column];
            to[x] = isfinite(v) ? v : NAN;
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

static double interpolate(const struct background *b, const float *node, double x, double y)
{
    double u = fmin(fmax((x + 0.5) / b->cell - 0.5, 0), b->columns - 1);
    double v = fmin(fmax((y + 0.5) / b->cell - 0.5, 0), b->rows - 1);
    int i = (int)u, j = (int)v;
    int right = i + 1 < b->columns ? 1 : 0;
    const float *upper = node + (size_t)j * (size_t)b->columns + i;
    const float *lower = j + 1 < b->rows ? upper + b->columns : upper;
    double top = (double)upper[0] + (u - i) * (double)(upper[right] - upper[0]);
    double bottom = (double)lower[0] + (u - i) * (double)(lower[right] - lower[0]);
    return top + (v - j) * (bottom - top);
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
        double left = background_level(b, 0, y);
        for (int x = 0; x < width; x += RUN) {
            double right = background_level(b, x + RUN, y);
            int n = width - x < RUN ? width - x : RUN;
            for (int i = 0; i < n; i++) {
                row[x + i] -= (float)(left + (right - left) * i / RUN);
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
