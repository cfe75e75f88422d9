#include "draw/busy.h"

#include "image/picture_samples.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A difference that eyes notice, of the sum of three 8-bit values. */
static const double noticed = 24;

/* Of the sample in that column and row. */
static double luminance_at(const struct picture *picture, double cell_px, int column, int row)
{
    int x = picture->sampled ? column : picture_sample_at(column, picture->width, cell_px);
    int y = picture->sampled ? row : picture_sample_at(row, picture->height, cell_px);
    size_t at = 3 * ((size_t)y * (size_t)picture_kept_columns(picture) + (size_t)x);
    if (picture->deep) {
        return (picture->deep[at] + picture->deep[at + 1] + picture->deep[at + 2]) / 257.0;
    }
    return picture->rgb[at] + picture->rgb[at + 1] + picture->rgb[at + 2];
}

/* The mean of a few pixels of a cell. */
static double cell_level(const struct picture *picture, double cell_px, int column, int row)
{
    double sum = 0;
    for (int i = 0; i < CELL_SAMPLES * CELL_SAMPLES; i++) {
        sum += luminance_at(picture, cell_px, column * CELL_SAMPLES + i % CELL_SAMPLES,
                            row * CELL_SAMPLES + i / CELL_SAMPLES);
    }
    return sum / (CELL_SAMPLES * CELL_SAMPLES);
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Levels to 0..1: nothing up to a step above the sky that eyes notice, all from the 99th of a
 * hundred on, but not before a few such steps. */
static void scale_levels(double *level, double *sorted, int count)
{
    memcpy(sorted, level, (size_t)count * sizeof *level);
    qsort(sorted, (size_t)count, sizeof *sorted, compare);
    double dark = sorted[count / 2] + noticed;
    double bright = fmax(sorted[(count - 1) * 99 / 100], dark + 4 * noticed);
    for (int i = 0; i < count; i++) {
        level[i] = fmin(1, fmax(0, (level[i] - dark) / (bright - dark)));
    }
}

static void add_up(struct busy_map *map, const double *level)
{
    int stride = map->columns + 1;
    for (int row = 0; row < map->rows; row++) {
        double along = 0;
        for (int column = 0; column < map->columns; column++) {
            along += level[row * map->columns + column];
            map->sum[(row + 1) * stride + column + 1] = map->sum[row * stride + column + 1] + along;
        }
    }
}

/* Makes room for the map and, beside it, two levels a cell. */
static int open_map(struct busy_map *map, double **level, int width, int height, double cell_px,
                    struct error *err)
{
    *map = (struct busy_map){.columns = picture_cells(width, cell_px),
                             .rows = picture_cells(height, cell_px),
                             .cell_px = cell_px};
    *level = malloc(2 * (size_t)map->columns * (size_t)map->rows * sizeof **level);
    map->sum = calloc((size_t)(map->columns + 1) * (size_t)(map->rows + 1), sizeof *map->sum);
    if (!*level || !map->sum) {
        free(*level);
        busy_free(map);
        return error_memory(err);
    }
    return 0;
}

int busy_find(struct busy_map *map, const struct picture *picture, struct error *err)
{
    double cell_px = picture_cell_px(picture->width, picture->height), *level;
    int code = open_map(map, &level, picture->width, picture->height, cell_px, err);
    if (code) {
        return code;
    }
    int count = map->columns * map->rows;
    for (int i = 0; i < count; i++) {
        level[i] = cell_level(picture, cell_px, i % map->columns, i / map->columns);
    }
    scale_levels(level, level + count, count);
    add_up(map, level);
    free(level);
    return 0;
}

int busy_of_sheet(struct busy_map *map, struct canvas *sheet, double cell_px, struct error *err)
{
    double *level;
    int code = open_map(map, &level, sheet->width, sheet->height, cell_px, err);
    if (code) {
        return code;
    }
    for (int y = 0; y < map->rows; y++) {
        const uint32_t *row = canvas_row(sheet, y);
        for (int x = 0; x < map->columns; x++) {
            level[y * map->columns + x] = (row[x] >> 24) / 255.0;
        }
    }
    add_up(map, level);
    free(level);
    return 0;
}

void busy_free(struct busy_map *map)
{
    free(map->sum);
    memset(map, 0, sizeof *map);
}

static int clamp_cell(double px, double cell_px, int cells)
{
    double cell = px / cell_px;
    return cell < 0 ? 0 : cell > cells ? cells : (int)cell;
}

double busy_in(const struct busy_map *map, const struct label_box *box)
{
    if (!map->sum) {
        return 0;
    }
    int stride = map->columns + 1;
    int left = clamp_cell(box->x, map->cell_px, map->columns - 1);
    int top = clamp_cell(box->y, map->cell_px, map->rows - 1);
    int right = clamp_cell(box->x + box->width, map->cell_px, map->columns - 1) + 1;
    int bottom = clamp_cell(box->y + box->height, map->cell_px, map->rows - 1) + 1;
    double sum = map->sum[bottom * stride + right] - map->sum[bottom * stride + left] -
                 map->sum[top * stride + right] + map->sum[top * stride + left];
    return sum / ((right - left) * (bottom - top));
}
