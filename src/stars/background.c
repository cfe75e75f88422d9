#include "stars/background.h"

#include "base/clamp.h"
#include "base/large.h"
#include "base/median.h"
#include "stars/sky_cell.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

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
                to[x] = from[x * step];
            }
        }
    }
    return thin;
}

/* The good values of a cell, with room for some more. */
static int gather_cell(float *to, const float *thin, int columns, int rows, int cell, int i, int j)
{
    int n = 0, right = (i + 1) * cell < columns ? (i + 1) * cell : columns;
    int lower = (j + 1) * cell < rows ? (j + 1) * cell : rows;
    for (int y = j * cell; y < lower; y++) {
        const float *row = thin + (size_t)y * (size_t)columns;
        for (int x = i * cell; x < right; x++) {
            to[n] = row[x];
            n += row[x] - row[x] == 0; /* false for what is not finite */
        }
    }
    return 2 * n > (lower - j * cell) * (right - i * cell) ? n : 0;
}

/* A cell without data is as the nearest one before it, or after it. */
static void fill_gaps(float *node, int n, int columns)
{
    for (int i = 0; i < n; i++) {
        if (isnan(node[i]) && i % columns > 0) {
            node[i] = node[i - 1];
        }
        if (isnan(node[i]) && i >= columns) {
            node[i] = node[i - columns];
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        if (isnan(node[i]) && i % columns < columns - 1) {
            node[i] = node[i + 1];
        }
        if (isnan(node[i]) && i + columns < n) {
            node[i] = node[i + columns];
        }
        if (isnan(node[i])) {
            node[i] = 0;
        }
    }
}

/* How far the neighbourhood of a place reaches: as far to the one side as to the other, so that a
 * slope stays as it is. */
static int reach_at(int i, int n)
{
    return i > 0 && i + 1 < n ? 1 : 0;
}

/* Puts the median of each node and its neighbours in its place; spare: as many. */
static void filter_nodes(float *node, float *spare, int columns, int rows)
{
    memcpy(spare, node, (size_t)columns * (size_t)rows * sizeof *node);
    for (int j = 0; j < rows; j++) {
        int high = reach_at(j, rows);
        for (int i = 0; i < columns; i++) {
            int wide = reach_at(i, columns), n = 0;
            float near[9];
            for (int y = j - high; y <= j + high; y++) {
                for (int x = i - wide; x <= i + wide; x++) {
                    float v = spare[y * columns + x];
                    int k = n++;
                    for (; k > 0 && near[k - 1] > v; k--) {
                        near[k] = near[k - 1];
                    }
                    near[k] = v;
                }
            }
            node[j * columns + i] = near[n / 2];
        }
    }
}

static double typical(const float *node, double *sorted, int n)
{
    for (int i = 0; i < n; i++) {
        sorted[i] = (double)node[i];
    }
    return median_of(sorted, n);
}

static int measure_mesh(struct background *b, const float *thin, int columns, int rows, int cell,
                        struct error *err)
{
    b->columns = columns > cell ? (columns - 1) / cell + 1 : 1;
    b->rows = rows > cell ? (rows - 1) / cell + 1 : 1;
    int n = b->columns * b->rows;
    float *value = malloc((size_t)(cell * cell + 64) * sizeof *value);
    float *spare = malloc((size_t)n * sizeof *spare);
    double *sorted = malloc((size_t)n * sizeof *sorted);
    b->level = malloc((size_t)n * sizeof *b->level);
    b->noise = malloc((size_t)n * sizeof *b->noise);
    int code = value && spare && sorted && b->level && b->noise ? 0 : error_memory(err);
    for (int k = 0; !code && k < n; k++) {
        int good = gather_cell(value, thin, columns, rows, cell, k % b->columns, k / b->columns);
        b->level[k] = b->noise[k] = NAN;
        if (good > 0) {
            sky_cell_measure(&b->level[k], &b->noise[k], value, good);
        }
    }
    if (!code) {
        fill_gaps(b->level, n, b->columns);
        fill_gaps(b->noise, n, b->columns);
        filter_nodes(b->level, spare, b->columns, b->rows);
        filter_nodes(b->noise, spare, b->columns, b->rows);
        b->typical_level = typical(b->level, sorted, n);
        b->typical_noise = typical(b->noise, sorted, n);
    }
    free(value);
    free(spare);
    free(sorted);
    return code;
}

int background_measure(struct background *b, const float *value, int width, int height, int mesh,
                       int step, struct error *err)
{
    memset(b, 0, sizeof *b);
    int columns, rows, cell = mesh / step < 4 ? 4 : mesh / step;
    float *thin = thin_out(value, width, height, step, &columns, &rows);
    int code = thin ? measure_mesh(b, thin, columns, rows, cell, err) : error_memory(err);
    b->cell = cell * step;
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
