#include "stars/block_grid.h"

#include "base/median.h"
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

/* Means of the blocks of one row; NAN where less than half of one has data. */
static void block_means(float *mean, struct block_sum *sum, const struct plane *plane, int row,
                        int blocks, int block)
{
    memset(sum, 0, (size_t)blocks * sizeof *sum);
    for (int y = row * block; y < (row + 1) * block; y++) {
        add_row(sum, plane->value + (size_t)y * (size_t)plane->width, blocks, block);
    }
    for (int i = 0; i < blocks; i++) {
        bool enough = 2 * sum[i].n >= block * block;
        mean[i] = enough ? (float)(sum[i].sum / sum[i].n) : NAN;
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
    struct block_sum *sum = malloc(((size_t)grid->width + 1) * sizeof *sum);
    if (!grid->value || !grid->level || !sum) {
        free(sum);
        return error_memory(err);
    }
    for (int y = 0; y < grid->height; y++) {
        block_means(grid->level + y * grid->width, sum, plane, y, grid->width, grid->block);
    }
    free(sum);
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
