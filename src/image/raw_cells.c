#include "image/raw_cells.h"

#include "base/wider.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* LibRaw's sum of what applies to all pixels, to a filter's colour, and to a place in a pattern. */
static double black_at(libraw_data_t *raw, int row, int column, int colour)
{
    const libraw_colordata_t *c = &raw->color;
    double black = c->black + (double)c->cblack[colour & 3];
    if (c->cblack[4] > 0 && c->cblack[5] > 0) {
        unsigned r = (unsigned)row % c->cblack[4], k = (unsigned)column % c->cblack[5];
        black += c->cblack[6 + r * c->cblack[5] + k];
    }
    return black;
}

static int smallest_common(int a, int b)
{
    int x = a, y = b;
    while (y) {
        int rest = x % y;
        x = y;
        y = rest;
    }
    return a / x * b;
}

/* The values lie in one of three arrays. */
static bool find_values(struct raw_cells *cells, libraw_data_t *raw)
{
    const libraw_rawdata_t *data = &raw->rawdata;
    const libraw_image_sizes_t *s = &raw->sizes;
    const unsigned short *values = data->raw_image      ? data->raw_image
                                   : data->color3_image ? data->color3_image[0]
                                   : data->color4_image ? data->color4_image[0]
                                                        : NULL;
    cells->channels = data->raw_image ? 1 : data->color3_image ? 3 : 4;
    cells->stride = s->raw_pitch / sizeof *values;
    if (cells->stride == 0) {
        cells->stride = (size_t)s->raw_width * (size_t)cells->channels;
    }
    cells->width = s->width;
    cells->height = s->height;
    bool inside = s->left_margin + s->width <= s->raw_width &&
                  s->top_margin + s->height <= s->raw_height && s->width > 0 && s->height > 0 &&
                  cells->stride >= (size_t)s->raw_width * (size_t)cells->channels;
    if (!values || !inside) {
        return false;
    }
    cells->first = values + (size_t)s->top_margin * cells->stride +
                   (size_t)s->left_margin * (size_t)cells->channels;
    return true;
}

static void find_filters(struct raw_cells *cells, libraw_data_t *raw)
{
    bool mosaic = cells->channels == 1 && raw->idata.filters != 0;
    cells->cell = !mosaic ? 1 : raw->idata.filters == 9 ? 3 : 2;
    for (int y = 0; y < RAW_PATTERN; y++) {
        for (int x = 0; x < RAW_PATTERN; x++) {
            int colour = mosaic ? libraw_COLOR(raw, y, x) : 1;
            cells->colour[y][x] = colour == 3 ? 1 : colour; /* the other green */
        }
    }
}

static int find_black(struct raw_cells *cells, libraw_data_t *raw, struct error *err)
{
    const unsigned *pattern = raw->color.cblack + 4;
    int high = pattern[0] > 0 && pattern[1] > 0 ? (int)pattern[0] : 1;
    size_t values = (size_t)cells->width * (size_t)cells->channels;
    size_t period = (size_t)smallest_common(pattern[1] > 0 ? (int)pattern[1] : 1, RAW_PATTERN) *
                    (size_t)cells->channels;
    double sum = 0;
    cells->rows = cells->channels > 1 ? high : smallest_common(high, RAW_PATTERN);
    cells->black = malloc((size_t)cells->rows * values * sizeof *cells->black);
    if (!cells->black) {
        return error_memory(err);
    }
    for (int y = 0; y < cells->rows; y++) {
        float *row = cells->black + (size_t)y * values;
        for (size_t i = 0; i < values && i < period; i++) {
            int x = (int)(i / (size_t)cells->channels), c = (int)(i % (size_t)cells->channels);
            int colour = cells->channels > 1 ? c : libraw_COLOR(raw, y, x);
            row[i] = (float)black_at(raw, y, x, colour);
        }
        for (size_t i = 0; i < values; i++) {
            row[i] = i < period ? row[i] : row[i - period];
            sum += (double)row[i];
        }
    }
    double mean = sum / ((double)cells->rows * (double)values);
    cells->full = (float)fmax(raw->color.maximum - mean, 0);
    return 0;
}

/* The camera's own white balance for the picture; stars are looked for without it. */
static void find_balance(struct raw_cells *cells, const libraw_data_t *raw)
{
    const float *mul = raw->color.cam_mul;
    for (int c = 0; c < 3; c++) {
        float factor = mul[1] > 0 && mul[c] > 0 ? mul[c] / mul[1] : 1;
        cells->balance[c] = factor > 0.1F && factor < 10 ? factor : 1;
    }
}

int raw_cells_look(struct raw_cells *cells, libraw_data_t *raw, const char *name, struct error *err)
{
    memset(cells, 0, sizeof *cells);
    if (raw->rawdata.ioparams.fuji_width) {
        return error_set(err, ERROR_INPUT,
                         "%s: raw values of a sensor whose pixels lie on a slant; expected rows",
                         name);
    }
    const unsigned *pattern = raw->color.cblack + 4, filters = raw->idata.filters;
    bool known = filters == 0 || filters == 9 || filters > 1000; /* in the library's coding */
    if ((double)pattern[0] * pattern[1] > LIBRAW_CBLACK_SIZE - 6 || pattern[0] > 64 || !known ||
        !find_values(cells, raw)) {
        return error_set(err, ERROR_INPUT,
                         "%s: raw values in a layout that is not known here; expected a mosaic or "
                         "three colours",
                         name);
    }
    find_filters(cells, raw);
    find_balance(cells, raw);
    return find_black(cells, raw, err);
}

bool raw_cells_are_blank(const struct raw_cells *cells)
{
    size_t values = (size_t)cells->width * (size_t)cells->channels;
    for (int y = 0; y < cells->height; y++) {
        const unsigned short *row = cells->first + (size_t)y * cells->stride;
        for (size_t i = 0; i < values; i++) {
            if (row[i] != 0) {
                return false;
            }
        }
    }
    return true;
}

void raw_cells_free(struct raw_cells *cells)
{
    free(cells->black);
    memset(cells, 0, sizeof *cells);
}

static const unsigned short *row_values(const struct raw_cells *cells, int y)
{
    return cells->first + (size_t)y * cells->stride;
}

static const float *row_black(const struct raw_cells *cells, int y)
{
    size_t values = (size_t)cells->width * (size_t)cells->channels;
    return cells->black + (size_t)(y % cells->rows) * values;
}

static PLAIN void take_black_plain(float *restrict line, const unsigned short *restrict value,
                                   const float *restrict black, int n)
{
    for (int x = 0; x < n; x++) {
        line[x] = (float)value[x] - black[x];
    }
}

WIDER(take_black,
      (float *restrict line, const unsigned short *restrict value, const float *restrict black,
       int n),
      (line, value, black, n))

void raw_cells_luminance(float *restrict line, const struct raw_cells *cells, int y)
{
    const unsigned short *restrict value = row_values(cells, y);
    const float *restrict black = row_black(cells, y);
    size_t step = (size_t)cells->channels;
    if (step == 1) {
        take_black(line, value, black, cells->width);
        return;
    }
    for (int x = 0; x < cells->width; x++, value += step, black += step) {
        line[x] = ((float)(value[0] + value[1] + value[2]) - black[0] - black[1] - black[2]) / 3;
    }
}

/* Mean of each colour in one cell; a colour that it lacks takes the mean of the others. */
static void cell_colours(float out[3], const struct raw_cells *cells, int x0, int y0)
{
    float sum[3] = {0}, all = 0;
    int count[3] = {0}, found = 0;
    for (int y = y0; y < y0 + cells->cell && y < cells->height; y++) {
        const unsigned short *value = row_values(cells, y);
        const float *black = row_black(cells, y);
        for (int x = x0; x < x0 + cells->cell && x < cells->width; x++) {
            int c = cells->colour[y % RAW_PATTERN][x % RAW_PATTERN];
            sum[c] += (float)value[x] - black[x];
            count[c]++;
        }
    }
    for (int c = 0; c < 3; c++) {
        out[c] = count[c] ? sum[c] / (float)count[c] * cells->balance[c] : 0;
        all += out[c];
        found += count[c] > 0;
    }
    for (int c = 0; c < 3; c++) {
        out[c] = count[c] ? out[c] : all / (float)found;
    }
}

/* Where in a cell of 2 x 2 the colours are: values and black levels of red, blue, and green twice.
 */
struct bayer_cell {
    const unsigned short *value[4];
    const float *black[4];
};

/* False if it is not such a cell. */
static bool find_bayer(struct bayer_cell *cell, const struct raw_cells *cells, int y)
{
    static const int places[3][2] = {{0, 0}, {2, 3}, {1, 1}};
    int count[3] = {0};
    if (cells->channels != 1 || cells->cell != 2 || y + 1 >= cells->height) {
        return false;
    }
    for (int k = 0; k < 4; k++) {
        int c = cells->colour[(y + k / 2) % RAW_PATTERN][k % 2];
        if (count[c] > (c == 1)) {
            return false;
        }
        int place = places[c][count[c]++];
        cell->value[place] = row_values(cells, y + k / 2) + k % 2;
        cell->black[place] = row_black(cells, y + k / 2) + k % 2;
    }
    return count[0] == 1 && count[1] == 2 && count[2] == 1;
}

/* Of one colour that is once, or twice, in each cell. */
static PLAIN void bayer_once_plain(float *restrict line, const unsigned short *restrict value,
                                   const float *restrict black, float balance, int cells)
{
    for (int i = 0; i < cells; i++) {
        line[2 * i] = line[2 * i + 1] = ((float)value[2 * i] - black[2 * i]) * balance;
    }
}

WIDER(bayer_once,
      (float *restrict line, const unsigned short *restrict value, const float *restrict black,
       float balance, int cells),
      (line, value, black, balance, cells))

static PLAIN void bayer_twice_plain(float *restrict line, const unsigned short *restrict first,
                                    const float *restrict first_black,
                                    const unsigned short *restrict second,
                                    const float *restrict second_black, float balance, int cells)
{
    for (int i = 0; i < cells; i++) {
        float a = (float)first[2 * i] - first_black[2 * i];
        float b = (float)second[2 * i] - second_black[2 * i];
        line[2 * i] = line[2 * i + 1] = (a + b) / 2 * balance;
    }
}

WIDER(bayer_twice,
      (float *restrict line, const unsigned short *restrict first,
       const float *restrict first_black, const unsigned short *restrict second,
       const float *restrict second_black, float balance, int cells),
      (line, first, first_black, second, second_black, balance, cells))

/* The same numbers as cell_colours finds, for nearly all cameras and much faster. */
static void bayer_row(float *const line[3], const struct bayer_cell *cell,
                      const struct raw_cells *cells)
{
    const float *balance = cells->balance;
    int n = cells->width / 2;
    bayer_once(line[0], cell->value[0], cell->black[0], balance[0], n);
    bayer_twice(line[1], cell->value[2], cell->black[2], cell->value[3], cell->black[3], balance[1],
                n);
    bayer_once(line[2], cell->value[1], cell->black[1], balance[2], n);
}

void raw_cells_colours(float *const line[3], const struct raw_cells *cells, int y)
{
    struct bayer_cell bayer;
    if (cells->width % 2 == 0 && find_bayer(&bayer, cells, y)) {
        bayer_row(line, &bayer, cells);
        return;
    }
    const unsigned short *value = row_values(cells, y);
    const float *black = row_black(cells, y);
    for (int x = 0; x < cells->width; x += cells->cell) {
        float colour[3];
        if (cells->channels == 1) {
            cell_colours(colour, cells, x, y);
        }
        for (int c = 0; c < 3; c++) {
            size_t at = (size_t)x * (size_t)cells->channels + (size_t)c;
            float level = cells->channels == 1 ? colour[c]
                                               : ((float)value[at] - black[at]) * cells->balance[c];
            for (int i = x; i < x + cells->cell && i < cells->width; i++) {
                line[c][i] = level;
            }
        }
    }
}
