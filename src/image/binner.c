#include "image/binner.h"

#include "base/large.h"
#include "image/picture_samples.h"

#include <stdlib.h>
#include <string.h>

/* Transposed rows are collected until they fill two cache lines of the plane. */
enum { BLOCK_ROWS = 32 };

static int min_int(int a, int b)
{
    return a < b ? a : b;
}

static int smallest_bin(int width, int height, int cell, long max_pixels)
{
    int limit = min_int(width, height);
    int bin = cell <= limit ? cell : 1;
    while (max_pixels > 0 && bin + cell <= limit &&
           (long)(width / bin) * (height / bin) > max_pixels) {
        bin += cell;
    }
    return bin;
}

static void orient(struct binner *b, int orientation)
{
    static const struct {
        bool flip_x, flip_y, transpose;
    } turns[9] = {
        [ORIENT_FLIP_X] = {true, false, false},    [ORIENT_HALF_TURN] = {true, true, false},
        [ORIENT_FLIP_Y] = {false, true, false},    [ORIENT_TRANSPOSE] = {false, false, true},
        [ORIENT_TURN_RIGHT] = {false, true, true}, [ORIENT_TRANSVERSE] = {true, true, true},
        [ORIENT_TURN_LEFT] = {true, false, true},
    };
    int i = orientation >= 1 && orientation <= 8 ? orientation : 1;
    b->flip_x = turns[i].flip_x;
    b->flip_y = turns[i].flip_y;
    b->transpose = turns[i].transpose;
}

static size_t pixel_bytes(const struct binner *b)
{
    return b->deep ? 3 * sizeof(uint16_t) : 3;
}

static bool allocate(struct binner *b)
{
    struct frame *frame = b->frame;
    struct plane *plane = &frame->luminance;
    size_t columns = (size_t)b->columns, width = (size_t)b->width;
    plane->value = large_alloc(columns * (size_t)b->rows * sizeof *plane->value);
    b->line = malloc(width * sizeof *b->line);
    b->sum = malloc(columns * sizeof *b->sum);
    bool good = plane->value && b->line && b->sum;
    if (b->transpose) {
        b->block = malloc(columns * BLOCK_ROWS * sizeof *b->block);
        good = good && b->block;
    }
    return good;
}

/* Which of the file's columns, or rows, each sample along its side is of. */
static int *list_samples(int *count, const struct binner *b, int side, bool flip)
{
    *count = CELL_SAMPLES * picture_cells(side, b->cell_px);
    int *of = malloc((size_t)*count * sizeof *of);
    for (int k = 0; of && k < *count; k++) {
        int at = picture_sample_at(k, side, b->cell_px);
        of[k] = flip ? side - 1 - at : at;
    }
    return of;
}

/* Of size, which is that of the frame. */
static bool allocate_picture(struct binner *b, struct picture *picture)
{
    if (picture->sampled) {
        b->cell_px = picture_cell_px(picture->width, picture->height);
        b->column_of = list_samples(&b->columns_of, b, b->width, b->flip_x);
        b->row_of = list_samples(&b->rows_of, b, b->height, b->flip_y);
    } else if (b->transpose) {
        b->picture_block = malloc((size_t)b->width * BLOCK_ROWS * pixel_bytes(b));
    }
    void *pixels = large_alloc((size_t)picture_kept_columns(picture) *
                               (size_t)picture_kept_rows(picture) * pixel_bytes(b));
    picture->deep = b->deep ? pixels : NULL;
    picture->rgb = b->deep ? NULL : pixels;
    return pixels &&
           (picture->sampled ? b->column_of && b->row_of : b->picture_block || !b->transpose);
}

int binner_start(struct binner *b, struct frame *frame, int width, int height, int orientation,
                 int cell, int bits, const struct frame_options *options, struct error *err)
{
    memset(b, 0, sizeof *b);
    b->frame = frame;
    b->deep = options->want_deep && bits > 8;
    b->keep_levels = options->keep_levels;
    b->width = width;
    b->height = height;
    orient(b, orientation);
    int bin = smallest_bin(width, height, cell, options->max_plane_pixels);
    b->columns = width / bin;
    b->rows = height / bin;
    b->skip_x = b->flip_x ? width % bin : 0;
    b->skip_y = b->flip_y ? height % bin : 0;
    frame->turned = b->flip_x || b->flip_y || b->transpose;
    frame->width = b->transpose ? height : width;
    frame->height = b->transpose ? width : height;
    frame->luminance.bin = bin;
    frame->luminance.width = b->transpose ? b->rows : b->columns;
    frame->luminance.height = b->transpose ? b->columns : b->rows;
    bool good = allocate(b);
    if (options->want_picture) {
        struct picture *picture = &frame->picture;
        picture->width = frame->width;
        picture->height = frame->height;
        picture->sampled = options->want_samples && !b->deep &&
                           picture_worth_sampling(frame->width, frame->height);
        good = allocate_picture(b, picture) && good;
    }
    return good ? 0 : error_memory(err);
}

void binner_free(struct binner *b)
{
    free(b->line);
    free(b->sum);
    free(b->block);
    free(b->picture_block);
    free(b->column_of);
    free(b->row_of);
    memset(b, 0, sizeof *b);
}

/* The row of the untransposed plane that the file's binned row goes to. */
static float *plane_row(struct binner *b, int row)
{
    int y = b->flip_y ? b->rows - 1 - row : row;
    return b->frame->luminance.value + (size_t)y * (size_t)b->columns;
}

/* A row that needs neither binning nor turning is converted in its place. */
float *binner_line(struct binner *b)
{
    bool direct = b->columns == b->width && !b->flip_x && !b->transpose && b->row < b->rows;
    return direct ? plane_row(b, b->row) : b->line;
}

/* Writes the rows in the block, of which row is the last, as columns of the plane. */
static void flush_block(struct binner *b, int row)
{
    struct plane *plane = &b->frame->luminance;
    int count = row % BLOCK_ROWS + 1;
    int first = row - count + 1;
    int left = b->flip_y ? b->rows - 1 - row : first;
    for (int i = 0; i < b->columns; i++) {
        int y = b->flip_x ? b->columns - 1 - i : i;
        float *out = plane->value + (size_t)y * (size_t)plane->width + left;
        const float *in = b->block + i;
        for (int k = 0; k < count; k++) {
            int from = b->flip_y ? count - 1 - k : k;
            out[k] = in[(size_t)from * (size_t)b->columns];
        }
    }
}

static void place_row(struct binner *b, int row, const float *values)
{
    size_t columns = (size_t)b->columns;
    if (b->transpose) {
        memcpy(b->block + (size_t)(row % BLOCK_ROWS) * columns, values, columns * sizeof *values);
        if (row % BLOCK_ROWS == BLOCK_ROWS - 1 || row == b->rows - 1) {
            flush_block(b, row);
        }
        return;
    }
    float *out = plane_row(b, row);
    if (b->flip_x) {
        for (size_t i = 0; i < columns; i++) {
            out[i] = values[columns - 1 - i];
        }
    } else if (out != values) {
        memcpy(out, values, columns * sizeof *values);
    }
}

static void sum_pairs(float *restrict sum, const float *restrict line, int columns)
{
    for (int i = 0; i < columns; i++) {
        sum[i] += line[2 * i] + line[2 * i + 1];
    }
}

static void sum_cells(float *restrict sum, const float *restrict line, int columns, int bin)
{
    for (int i = 0; i < columns; i++) {
        float cell = 0;
        for (int k = 0; k < bin; k++) {
            cell += line[(size_t)i * (size_t)bin + (size_t)k];
        }
        sum[i] += cell;
    }
}

/* Adds the line to the cells; the last line of a cell completes a row of the plane. */
static void add_binned(struct binner *b, int bin)
{
    int row = b->row - b->skip_y;
    if (row < 0 || row / bin >= b->rows) {
        return;
    }
    if (row % bin == 0) {
        memset(b->sum, 0, (size_t)b->columns * sizeof *b->sum);
    }
    if (bin == 2) {
        sum_pairs(b->sum, b->line + b->skip_x, b->columns);
    } else {
        sum_cells(b->sum, b->line + b->skip_x, b->columns, bin);
    }
    if (row % bin == bin - 1) {
        float share = 1 / ((float)bin * (float)bin);
        for (int i = 0; i < b->columns; i++) {
            b->sum[i] *= share;
        }
        place_row(b, row / bin, b->sum);
    }
}

void binner_add(struct binner *b)
{
    int bin = b->frame->luminance.bin;
    if (bin == 1 && b->row < b->rows) {
        place_row(b, b->row, binner_line(b));
    } else if (bin > 1) {
        add_binned(b, bin);
    }
    b->row++;
}

/* As flush_block, for the pixels of the picture. */
static void flush_picture_block(struct binner *b, unsigned char *pixels, int row)
{
    size_t bytes = pixel_bytes(b), stride = (size_t)b->frame->picture.width * bytes;
    int count = row % BLOCK_ROWS + 1;
    int first = row - count + 1;
    int left = b->flip_y ? b->height - 1 - row : first;
    for (int i = 0; i < b->width; i++) {
        int y = b->flip_x ? b->width - 1 - i : i;
        unsigned char *out = pixels + (size_t)y * stride + (size_t)left * bytes;
        const unsigned char *in = b->picture_block + bytes * (size_t)i;
        for (int k = 0; k < count; k++) {
            int from = b->flip_y ? count - 1 - k : k;
            memcpy(out + bytes * (size_t)k, in + bytes * (size_t)from * (size_t)b->width, bytes);
        }
    }
}

bool binner_wants(const struct binner *b, int count)
{
    bool wanted = !b->row_of;
    for (int k = 0; k < b->rows_of; k++) {
        int ahead = b->row_of[k] - b->picture_row;
        wanted = wanted || (ahead >= 0 && ahead < count);
    }
    return wanted;
}

/* Of a row's pixels those that are samples, if there are any. */
static void add_samples(struct binner *b, unsigned char *samples, const unsigned char *row_pixels,
                        int row)
{
    for (int k = 0; k < b->rows_of; k++) {
        if (b->row_of[k] != row) {
            continue;
        }
        size_t at = b->transpose ? (size_t)k : (size_t)k * (size_t)b->columns_of;
        size_t step = b->transpose ? (size_t)b->rows_of : 1;
        for (int i = 0; i < b->columns_of; i++) {
            memcpy(samples + 3 * (at + (size_t)i * step), row_pixels + 3 * (size_t)b->column_of[i],
                   3);
        }
    }
}

static void add_pixels(struct binner *b, unsigned char *pixels, const unsigned char *row_pixels)
{
    int row = b->picture_row++;
    if (!pixels || row >= b->height) {
        return;
    }
    if (b->row_of) {
        add_samples(b, pixels, row_pixels, row);
        return;
    }
    size_t bytes = pixel_bytes(b), stride = (size_t)b->width * bytes;
    if (b->transpose) {
        memcpy(b->picture_block + (size_t)(row % BLOCK_ROWS) * stride, row_pixels, stride);
        if (row % BLOCK_ROWS == BLOCK_ROWS - 1 || row == b->height - 1) {
            flush_picture_block(b, pixels, row);
        }
        return;
    }
    unsigned char *out = pixels + (size_t)(b->flip_y ? b->height - 1 - row : row) * stride;
    if (b->flip_x) {
        for (size_t i = 0; i < (size_t)b->width; i++) {
            memcpy(out + bytes * i, row_pixels + stride - bytes * (i + 1), bytes);
        }
    } else {
        memcpy(out, row_pixels, stride);
    }
}

void binner_add_rgb(struct binner *b, const unsigned char *rgb)
{
    add_pixels(b, b->frame->picture.rgb, rgb);
}

void binner_add_deep(struct binner *b, const uint16_t *rgb)
{
    add_pixels(b, (unsigned char *)b->frame->picture.deep, (const unsigned char *)rgb);
}
