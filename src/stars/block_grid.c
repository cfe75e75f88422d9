#include "stars/block_grid.h"

#include "base/median.h"
#include "base/wider.h"
#include "stars/background.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CELL = 8,
    SAMPLES = 8000
}; /* blocks along the side of a piece of sky; for the noise, about */

/* Of one block. */
struct block_sum {
    double sum;
    int n;
};

/* A row of pixels adds to all blocks of a row, whose sums do not wait for each other. */
static void add_row(struct block_sum *sum, const float *value, int blocks, int block)
{
    for (int i = 0; i < blocks; i++, value += block) {
        double all = sum[i].sum;
        int n = 0;
        for (int x = 0; x < block; x++) {
            bool good = isfinite(value[x]);
            all = good ? all + (double)value[x] : all;
            n += good;
        }
        sum[i].sum = all;
        sum[i].n += n;
    }
}

/* Adds a row of pixels to sums of columns; tells of values that are not finite. */
static PLAIN void add_columns_plain(double *restrict column, bool *gaps,
                                    const float *restrict value, int n)
{
    int found = 0;
    for (int i = 0; i < n; i++) {
        column[i] += (double)value[i];
        found |= value[i] - value[i] != 0;
    }
    *gaps = *gaps || found;
}

WIDER(add_columns, (double *restrict column, bool *gaps, const float *restrict value, int n),
      (column, gaps, value, n))

/* Room for the sums of one row of blocks. */
struct row_sums {
    double *column; /* of each column of pixels */
    struct block_sum *block;
};

/* Sums of blocks column by column, many side by side. False where data are missing. */
static bool sum_columns(const struct row_sums *sums, const float *value, size_t stride, int blocks,
                        int block)
{
    bool gaps = false;
    int n = blocks * block;
    memset(sums->column, 0, (size_t)n * sizeof *sums->column);
    for (int y = 0; y < block; y++) {
        add_columns(sums->column, &gaps, value + (size_t)y * stride, n);
    }
    for (int i = 0; i < blocks && !gaps; i++) {
        double all = 0;
        for (int x = 0; x < block; x++) {
            all += sums->column[i * block + x];
        }
        sums->block[i] = (struct block_sum){all, block * block};
    }
    return !gaps;
}

/* Means of the blocks of one row; NAN where less than half of one has data. Both ways to sum come
 * to the same: a double holds the digits of so many floats. */
static void block_means(float *mean, const struct row_sums *sums, const struct plane *plane,
                        int row, int blocks, int block)
{
    size_t stride = (size_t)plane->width;
    const float *value = plane->value + (size_t)(row * block) * stride;
    if (!sum_columns(sums, value, stride, blocks, block)) {
        memset(sums->block, 0, (size_t)blocks * sizeof *sums->block);
        for (int y = 0; y < block; y++) {
            add_row(sums->block, value + (size_t)y * stride, blocks, block);
        }
    }
    for (int i = 0; i < blocks; i++) {
        const struct block_sum *sum = &sums->block[i];
        mean[i] = 2 * sum->n >= block * block ? (float)(sum->sum / sum->n) : NAN;
    }
}

static int take_means(struct block_grid *grid, const struct plane *plane, struct error *err)
{
    int longer = plane->width > plane->height ? plane->width : plane->height;
    grid->block = (longer + BLOCK_SIDE - 1) / BLOCK_SIDE;
    grid->width = plane->width / grid->block;
    grid->height = plane->height / grid->block;
    size_t blocks = (size_t)grid->width * (size_t)grid->height;
    grid->value = malloc((blocks + 1) * sizeof *grid->value);
    grid->level = malloc((blocks + 1) * sizeof *grid->level);
    struct row_sums sums = {malloc((size_t)plane->width * sizeof *sums.column),
                            malloc(((size_t)grid->width + 1) * sizeof *sums.block)};
    bool good = grid->value && grid->level && sums.column && sums.block;
    for (int y = 0; good && y < grid->height; y++) {
        block_means(grid->level + y * grid->width, &sums, plane, y, grid->width, grid->block);
    }
    free(sums.column);
    free(sums.block);
    if (!good) {
        return error_memory(err);
    }
    memcpy(grid->value, grid->level, blocks * sizeof *grid->value);
    return 0;
}

static double read(const float *value, const struct block_grid *grid, double x, double y)
{
    int column = (int)floor(x + 0.5), row = (int)floor(y + 0.5);
    bool inside = column >= 0 && row >= 0 && column < grid->width && row < grid->height;
    return inside ? (double)value[row * grid->width + column] : (double)NAN;
}

double block_at(const struct block_grid *grid, double x, double y)
{
    return read(grid->value, grid, x, y);
}

double block_level_at(const struct block_grid *grid, double x, double y)
{
    return read(grid->level, grid, x, y);
}

bool block_stands(const struct block_grid *grid, double x, double y)
{
    return block_at(grid, x, y) > BLOCK_STANDS;
}

static double cell_median(const struct block_grid *grid, int left, int top)
{
    double value[CELL * CELL];
    int n = 0;
    for (int y = top; y < top + CELL && y < grid->height; y++) {
        for (int x = left; x < left + CELL && x < grid->width; x++) {
            float v = grid->value[y * grid->width + x];
            if (isfinite(v)) {
                value[n++] = (double)v;
            }
        }
    }
    return n ? median_of(value, n) : (double)NAN;
}

/* The sky at a block lies between the medians of the cells around it. */
static int take_sky_off(struct block_grid *grid, struct error *err)
{
    int columns = (grid->width + CELL - 1) / CELL, rows = (grid->height + CELL - 1) / CELL;
    struct background sky = {.columns = columns, .rows = rows, .cell = CELL};
    sky.level = malloc((size_t)columns * (size_t)rows * sizeof *sky.level);
    if (!sky.level) {
        return error_memory(err);
    }
    for (int i = 0; i < columns * rows; i++) {
        sky.level[i] = (float)cell_median(grid, i % columns * CELL, i / columns * CELL);
    }
    for (int y = 0; y < grid->height; y++) {
        for (int x = 0; x < grid->width; x++) {
            grid->value[y * grid->width + x] -= (float)background_level(&sky, x, y);
        }
    }
    background_free(&sky);
    return 0;
}

/* Puts the blocks in units of their noise, which a normal distribution has 1.4826 times the median
 * deviation of. */
static int scale_by_noise(struct block_grid *grid, struct error *err)
{
    int blocks = grid->width * grid->height, apart = blocks / SAMPLES + 1, samples = 0;
    double *size = malloc(((size_t)(blocks / apart) + 1) * sizeof *size);
    if (!size) {
        return error_memory(err);
    }
    for (int i = 0; i < blocks; i += apart) {
        if (isfinite(grid->value[i])) {
            size[samples++] = fabs((double)grid->value[i]);
        }
    }
    double noise = 1.4826 * median_of(size, samples);
    for (int i = 0; i < blocks; i++) {
        grid->count += isfinite(grid->value[i]) != 0;
        grid->value[i] = noise > 0 ? (float)((double)grid->value[i] / noise) : 0;
        grid->level[i] = noise > 0 ? (float)((double)grid->level[i] / noise) : 0;
        grid->standing += (double)grid->value[i] > BLOCK_STANDS;
    }
    free(size);
    return 0;
}

int block_grid_make(struct block_grid *grid, const struct plane *plane, struct error *err)
{
    int code = take_means(grid, plane, err);
    if (!code && (grid->width < 2 * CELL || grid->height < 2 * CELL)) {
        grid->width = grid->height = 0;
        return 0;
    }
    code = code ? code : take_sky_off(grid, err);
    return code ? code : scale_by_noise(grid, err);
}

void block_grid_free(struct block_grid *grid)
{
    free(grid->value);
    free(grid->level);
    memset(grid, 0, sizeof *grid);
}
