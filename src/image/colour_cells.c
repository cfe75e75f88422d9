#include "image/colour_cells.h"

#include "base/large.h"

#include <stdlib.h>
#include <string.h>

static int choose_cell(const struct binner *binner)
{
    int bin = binner->frame->luminance.bin;
    int shorter = binner->width < binner->height ? binner->width : binner->height;
    return 2 * bin <= shorter ? 2 * bin : bin;
}

int colour_cells_start(struct colour_cells *cells, const struct binner *binner, struct error *err)
{
    struct colours *colours = &binner->frame->colours;
    bool good = true;
    cells->binner = binner;
    cells->cell = choose_cell(binner);
    cells->columns = binner->width / cells->cell;
    cells->rows = binner->height / cells->cell;
    cells->skip_x = binner->flip_x ? binner->width % cells->cell : 0;
    cells->skip_y = binner->flip_y ? binner->height % cells->cell : 0;
    colours->bin = cells->cell;
    colours->width = binner->transpose ? cells->rows : cells->columns;
    colours->height = binner->transpose ? cells->columns : cells->rows;
    size_t columns = (size_t)cells->columns;
    for (int c = 0; c < 3; c++) {
        colours->value[c] = large_alloc(columns * (size_t)cells->rows * sizeof *colours->value[c]);
        cells->sum[c] = calloc(columns, sizeof *cells->sum[c]);
        good = good && colours->value[c] && cells->sum[c];
    }
    return good ? 0 : error_memory(err);
}

/* Puts a finished row of cells where it is displayed, and begins the next one. */
static void place_row(struct colour_cells *cells, int row)
{
    const struct binner *b = cells->binner;
    struct colours *colours = &b->frame->colours;
    float share = 1 / ((float)cells->cell * (float)cells->cell);
    size_t width = (size_t)colours->width, y = (size_t)(b->flip_y ? cells->rows - 1 - row : row);
    for (int c = 0; c < 3; c++) {
        float *out = colours->value[c];
        for (int i = 0; i < cells->columns; i++) {
            size_t x = (size_t)(b->flip_x ? cells->columns - 1 - i : i);
            out[b->transpose ? x * width + y : y * width + x] = cells->sum[c][i] * share;
        }
        memset(cells->sum[c], 0, (size_t)cells->columns * sizeof *cells->sum[c]);
    }
}

/* Whether the next row belongs to a cell. */
static bool is_wanted(const struct colour_cells *cells)
{
    int row = cells->row - cells->skip_y;
    return row >= 0 && row / cells->cell < cells->rows;
}

/* After so many rows of one cell. */
static void end_rows(struct colour_cells *cells, int rows)
{
    cells->row += rows;
    int row = cells->row - cells->skip_y;
    if (row > 0 && row / cells->cell <= cells->rows && row % cells->cell == 0) {
        place_row(cells, row / cells->cell - 1);
    }
}

/* How many rows from the next one on belong to one cell, or to none, of so many. */
static int rows_alike(const struct colour_cells *cells, int rows)
{
    int row = cells->row - cells->skip_y;
    int alike = row < 0 ? -row : cells->cell - row % cells->cell;
    return alike < rows ? alike : rows;
}

static void sum_cells(float *restrict sum, const float *restrict line, int columns, int cell,
                      float times)
{
    for (int i = 0; cell == 4 && i < columns; i++) { /* of most frames */
        sum[i] += (line[4 * i] + line[4 * i + 1] + line[4 * i + 2] + line[4 * i + 3]) * times;
    }
    for (int i = 0; cell != 4 && i < columns; i++) {
        float all = 0;
        for (int k = 0; k < cell; k++) {
            all += line[(size_t)i * (size_t)cell + (size_t)k];
        }
        sum[i] += all * times;
    }
}

void colour_cells_add(struct colour_cells *cells, const float *const colour[3], int rows)
{
    for (int i = 0; cells->binner && i < rows;) {
        int alike = rows_alike(cells, rows - i);
        for (int c = 0; c < 3 && is_wanted(cells); c++) {
            sum_cells(cells->sum[c], colour[c] + cells->skip_x, cells->columns, cells->cell,
                      (float)alike);
        }
        end_rows(cells, alike);
        i += alike;
    }
}

void colour_cells_add_bytes(struct colour_cells *cells, const unsigned char *rgb)
{
    if (!cells->binner) {
        return;
    }
    const unsigned char *pixel = rgb + 3 * (size_t)cells->skip_x;
    for (int i = 0; i < cells->columns && is_wanted(cells); i++) {
        int sum[3] = {0};
        for (int k = 0; k < cells->cell; k++, pixel += 3) {
            sum[0] += pixel[0];
            sum[1] += pixel[1];
            sum[2] += pixel[2];
        }
        for (int c = 0; c < 3; c++) {
            cells->sum[c][i] += (float)sum[c];
        }
    }
    end_rows(cells, 1);
}

void colour_cells_free(struct colour_cells *cells)
{
    for (int c = 0; c < 3; c++) {
        free(cells->sum[c]);
    }
    memset(cells, 0, sizeof *cells);
}
