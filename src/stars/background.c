#include "stars/background.h"

#include "base/large.h"
#include "base/median.h"
#include "base/parallel.h"
#include "stars/sky_cell.h"

#include <math.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

/* One pixel of each step x step. */
struct thin {
    float *value;
    int columns, rows;
};

/* Takes from odd and even columns and rows alike, lest a pattern of the sensor hide. An odd step
 * does so by itself, and leaves most rows untouched. */
static void thin_row(float *to, const float *value, int width, int columns, int y, int step)
{
    int mixed = step % 2 == 0 ? step : 1;
    for (int first = 0; first < mixed; first++) {
        const float *from = value + (size_t)(y * step + first) * (size_t)width + y % step;
        for (int x = first; x < columns; x += mixed) {
            to[x] = from[x * step];
        }
    }
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

static inline void sort_two(float *a, float *b)
{
    float low = *a < *b ? *a : *b, high = *a < *b ? *b : *a;
    *a = low;
    *b = high;
}

/* Of nine, by sorting threes: the median of the highest low, the middle middle and the lowest high
 * (Smith 1996, Xcell 23, 16; from memory). */
static inline float median_of_nine(float v[9])
{
    for (int k = 0; k < 9; k += 3) {
        sort_two(&v[k + 1], &v[k + 2]);
        sort_two(&v[k], &v[k + 1]);
        sort_two(&v[k + 1], &v[k + 2]);
    }
    float low = v[0] > v[3] ? v[0] : v[3], high = v[2] < v[5] ? v[2] : v[5];
    low = low > v[6] ? low : v[6];
    high = high < v[8] ? high : v[8];
    sort_two(&v[4], &v[7]);
    sort_two(&v[1], &v[4]);
    sort_two(&v[4], &v[7]);
    float middle = v[4];
    sort_two(&low, &middle);
    sort_two(&middle, &high);
    sort_two(&low, &middle);
    return middle;
}

static float median_of_three(float a, float b, float c)
{
    sort_two(&a, &b);
    sort_two(&b, &c);
    sort_two(&a, &b);
    return b;
}

/* above and below: this row again where there is none. */
static void filter_row(float *restrict out, const float *restrict above, const float *restrict row,
                       const float *restrict below, int columns)
{
    for (int i = 1; i + 1 < columns; i++) {
        float v[9] = {above[i - 1], above[i],     above[i + 1], row[i - 1],  row[i],
                      row[i + 1],   below[i - 1], below[i],     below[i + 1]};
        out[i] = median_of_nine(v);
    }
    out[0] = median_of_three(above[0], row[0], below[0]);
    out[columns - 1] = median_of_three(above[columns - 1], row[columns - 1], below[columns - 1]);
}

/* Puts the median of each node and its neighbours in its place; spare: as many. At an edge only
 * those along it count, so that a slope stays as it is. */
static void filter_nodes(float *node, float *spare, int columns, int rows)
{
    size_t n = (size_t)columns;
    memcpy(spare, node, n * (size_t)rows * sizeof *node);
    for (size_t j = 0; j < (size_t)rows; j++) {
        bool edge = j == 0 || j + 1 == (size_t)rows;
        const float *row = spare + j * n;
        filter_row(node + j * n, edge ? row : row - n, row, edge ? row : row + n, columns);
    }
}

static double typical(const float *node, double *sorted, int n)
{
    for (int i = 0; i < n; i++) {
        sorted[i] = (double)node[i];
    }
    return median_of(sorted, n);
}

/* What the rows of cells are measured from. */
struct mesh_work {
    struct background *b;
    struct thin thin;
    int cell;
    const float *plane; /* to take thin from; NULL: that is done */
    int width, step;
    atomic_bool failed;
};

static void measure_row_of_cells(int j, void *context)
{
    struct mesh_work *w = context;
    const struct thin *thin = &w->thin;
    int end = (j + 1) * w->cell < thin->rows ? (j + 1) * w->cell : thin->rows;
    float *value = malloc(((size_t)w->cell * (size_t)w->cell + 1) * sizeof *value);
    if (!value) {
        atomic_store(&w->failed, true);
        return;
    }
    for (int y = j * w->cell; w->plane && y < end; y++) {
        thin_row(thin->value + (size_t)y * (size_t)thin->columns, w->plane, w->width, thin->columns,
                 y, w->step);
    }
    for (int i = 0; i < w->b->columns; i++) {
        float *level = w->b->level + j * w->b->columns + i;
        float *noise = w->b->noise + j * w->b->columns + i;
        int good = gather_cell(value, thin->value, thin->columns, thin->rows, w->cell, i, j);
        double known = w->plane ? 0 : (double)*noise;
        *level = *noise = NAN;
        if (good > 0) {
            sky_cell_measure(level, noise, value, good, known);
        }
    }
    free(value);
}

/* Fills and filters the nodes of the mesh; the noise only in the last look. ERROR_MEMORY. */
static int measure_mesh(struct mesh_work *w, bool last, int threads, struct error *err)
{
    struct background *b = w->b;
    int n = b->columns * b->rows;
    float *spare = malloc((size_t)n * sizeof *spare);
    if (!spare) {
        return error_memory(err);
    }
    parallel_each(b->rows, threads, measure_row_of_cells, w);
    fill_gaps(b->level, n, b->columns);
    fill_gaps(b->noise, n, b->columns);
    filter_nodes(b->level, spare, b->columns, b->rows);
    if (last) {
        filter_nodes(b->noise, spare, b->columns, b->rows);
    }
    free(spare);
    return atomic_load(&w->failed) ? error_memory(err) : 0;
}

/* Takes the level off the thinned plane it was measured on. */
static void subtract_level(struct mesh_work *w)
{
    struct background in_thin = *w->b;
    in_thin.cell = w->cell;
    for (int y = 0; y < w->thin.rows; y++) {
        float *row = w->thin.value + (size_t)y * (size_t)w->thin.columns;
        struct background_row at = background_row(&in_thin, y);
        for (int piece = 0, x = 0; piece <= in_thin.columns; piece++) {
            int end = background_piece_end(&in_thin, piece, w->thin.columns);
            struct straight level = background_piece(&at, in_thin.level, piece, x);
            for (int from = x; x < end; x++) {
                row[x] -= level.first + level.step * (float)(x - from);
            }
        }
    }
}

/* Side of a cell in thinned values. */
static int cell_of(int mesh, int step)
{
    return mesh / step < 4 ? 4 : mesh / step;
}

/* Nodes without values, for cells of so many of the thinned values. */
static int start_mesh(struct mesh_work *w, int cell, int step, struct error *err)
{
    struct background *b = w->b;
    w->cell = cell;
    *b = (struct background){.columns = (w->thin.columns + cell - 1) / cell,
                             .rows = (w->thin.rows + cell - 1) / cell,
                             .cell = cell * step};
    size_t n = (size_t)b->columns * (size_t)b->rows;
    b->level = malloc(n * sizeof *b->level);
    b->noise = malloc(n * sizeof *b->noise);
    return b->level && b->noise ? 0 : error_memory(err);
}

/* Leaves the first look's level in rest. */
static int look_again(struct mesh_work *w, struct background_rest *rest, int threads,
                      struct error *err)
{
    struct background *b = w->b;
    size_t n = (size_t)b->columns * (size_t)b->rows;
    rest->level = *b;
    rest->level.noise = NULL;
    rest->level.level = malloc(n * sizeof *b->level);
    if (!rest->level.level) {
        return error_memory(err);
    }
    subtract_level(w);
    memcpy(rest->level.level, b->level, n * sizeof *b->level);
    w->plane = NULL;
    int code = measure_mesh(w, true, threads, err);
    for (size_t i = 0; i < n; i++) {
        b->level[i] += rest->level.level[i];
    }
    return code;
}

static int find_typical(struct background *b, struct error *err)
{
    int n = b->columns * b->rows;
    double *sorted = malloc((size_t)n * sizeof *sorted);
    if (!sorted) {
        return error_memory(err);
    }
    b->typical_level = typical(b->level, sorted, n);
    b->typical_noise = typical(b->noise, sorted, n);
    free(sorted);
    return 0;
}

int background_measure(struct background *b, struct background_rest *rest, const float *value,
                       int width, int height, int mesh, int step, int threads, struct error *err)
{
    struct mesh_work w = {.b = b,
                          .thin = {.columns = width / step, .rows = height / step},
                          .plane = value,
                          .width = width,
                          .step = step};
    atomic_init(&w.failed, false);
    int code = start_mesh(&w, cell_of(mesh, step), step, err);
    w.thin.value = large_alloc((size_t)w.thin.columns * (size_t)w.thin.rows * sizeof *value);
    code = code ? code : w.thin.value ? measure_mesh(&w, !rest, threads, err) : error_memory(err);
    if (rest) {
        *rest = (struct background_rest){w.thin.value, w.thin.columns, w.thin.rows, step, {0}};
        code = code ? code : look_again(&w, rest, threads, err);
    } else {
        free(w.thin.value);
    }
    code = code ? code : find_typical(b, err);
    if (code) {
        background_free(b);
        if (rest) {
            background_rest_free(rest);
        }
    }
    return code;
}

/* Side of a cell in which the noise is told to a tenth, from known values. */
enum { LEAST_REFINED = 7 };

/* A finer mesh. What is known of the noise sets the scale. */
static int refine(struct background *b, const struct background_rest *rest,
                  const struct background *known, int mesh, int threads, struct error *err)
{
    struct mesh_work w = {.b = b, .thin = {rest->value, rest->columns, rest->rows}};
    atomic_init(&w.failed, false);
    int cell = cell_of(mesh, rest->step);
    int code = start_mesh(&w, cell < LEAST_REFINED ? LEAST_REFINED : cell, rest->step, err);
    for (int i = 0; !code && i < b->columns * b->rows; i++) {
        double x = (i % b->columns + 0.5) * b->cell - 0.5;
        double y = (i / b->columns + 0.5) * b->cell - 0.5;
        b->noise[i] = (float)background_noise(known, x, y);
    }
    code = code ? code : measure_mesh(&w, true, threads, err);
    for (int i = 0; !code && i < b->columns * b->rows; i++) {
        double x = (i % b->columns + 0.5) * b->cell - 0.5;
        double y = (i / b->columns + 0.5) * b->cell - 0.5;
        b->level[i] += (float)background_level(&rest->level, x, y);
    }
    return code;
}

/* Median of what lies about the middle of a wide cell, alike on all sides lest a slope count. */
static float median_about(const struct background *known, const float *node, double x, double y,
                          double cell)
{
    enum { ASIDE = 1, ALL = (2 * ASIDE + 1) * (2 * ASIDE + 1) };
    double value[ALL], step = cell / (2 * ASIDE + 1);
    int n = 0;
    for (int j = -ASIDE; j <= ASIDE; j++) {
        for (int i = -ASIDE; i <= ASIDE; i++) {
            value[n++] = background_between(known, node, x + i * step, y + j * step);
        }
    }
    return (float)median_of(value, n);
}

static int coarsen(struct background *b, const struct background_rest *rest,
                   const struct background *known, int mesh, struct error *err)
{
    struct mesh_work w = {.b = b, .thin = {rest->value, rest->columns, rest->rows}};
    int code = start_mesh(&w, cell_of(mesh, rest->step), rest->step, err), n = b->columns * b->rows;
    float *spare = malloc((size_t)n * sizeof *spare);
    code = code ? code : spare ? 0 : error_memory(err);
    for (int i = 0; !code && i < n; i++) {
        double x = (i % b->columns + 0.5) * b->cell - 0.5;
        double y = (i / b->columns + 0.5) * b->cell - 0.5;
        b->level[i] = median_about(known, known->level, x, y, b->cell);
        b->noise[i] = median_about(known, known->noise, x, y, b->cell);
    }
    if (!code) {
        filter_nodes(b->level, spare, b->columns, b->rows);
        filter_nodes(b->noise, spare, b->columns, b->rows);
    }
    free(spare);
    return code;
}

int background_again(struct background *b, const struct background_rest *rest,
                     const struct background *known, int mesh, int threads, struct error *err)
{
    *b = (struct background){0};
    int code = cell_of(mesh, rest->step) * rest->step > known->cell
                   ? coarsen(b, rest, known, mesh, err)
                   : refine(b, rest, known, mesh, threads, err);
    code = code ? code : find_typical(b, err);
    if (code) {
        background_free(b);
    }
    return code;
}

void background_rest_free(struct background_rest *rest)
{
    free(rest->value);
    background_free(&rest->level);
    memset(rest, 0, sizeof *rest);
}

struct background_row background_row(const struct background *b, double y)
{
    double v = (y + 0.5) / b->cell - 0.5;
    v = v > 0 ? v < b->rows - 1 ? v : b->rows - 1 : 0;
    int j = (int)v;
    return (struct background_row){.b = b,
                                   .upper = j * b->columns,
                                   .lower = (j + 1 < b->rows ? j + 1 : j) * b->columns,
                                   .part = (float)(v - j)};
}

int background_piece_end(const struct background *b, int piece, int width)
{
    /* The middle of the cell at the piece's right. */
    int end = piece < b->columns ? (int)ceil((piece + 0.5) * b->cell - 0.5) : width;
    return end < width ? end : width;
}

static float node_of_row(const struct background_row *row, const float *node, int i)
{
    float upper = node[row->upper + i], lower = node[row->lower + i];
    return upper + row->part * (lower - upper);
}

struct straight background_piece(const struct background_row *row, const float *node, int piece,
                                 int x)
{
    const struct background *b = row->b;
    int left = piece > 0 ? piece - 1 : 0, right = piece < b->columns ? piece : b->columns - 1;
    float first = node_of_row(row, node, left), last = node_of_row(row, node, right);
    float step = (last - first) / (float)b->cell;
    float off = (float)(x - ((left + 0.5) * b->cell - 0.5));
    return (struct straight){first + step * off, step};
}

struct background_place background_place(const struct background *b, double x, double y)
{
    double per_cell = 1 / b->cell, last_u = b->columns - 1, last_v = b->rows - 1;
    double u = (x + 0.5) * per_cell - 0.5, v = (y + 0.5) * per_cell - 0.5;
    u = u > 0 ? u < last_u ? u : last_u : 0;
    v = v > 0 ? v < last_v ? v : last_v : 0;
    int i = (int)u, j = (int)v, upper = j * b->columns + i;
    return (struct background_place){.upper = upper,
                                     .lower = j + 1 < b->rows ? upper + b->columns : upper,
                                     .next = i + 1 < b->columns,
                                     .across = u - i,
                                     .down = v - j};
}

double background_at(const struct background_place *p, const float *node)
{
    const float *upper = node + p->upper, *lower = node + p->lower;
    double top = (double)upper[0] + p->across * (double)(upper[p->next] - upper[0]);
    double bottom = (double)lower[0] + p->across * (double)(lower[p->next] - lower[0]);
    return top + p->down * (bottom - top);
}

double background_between(const struct background *b, const float *node, double x, double y)
{
    struct background_place place = background_place(b, x, y);
    return background_at(&place, node);
}

double background_level(const struct background *b, double x, double y)
{
    return background_between(b, b->level, x, y);
}

double background_noise(const struct background *b, double x, double y)
{
    return background_between(b, b->noise, x, y);
}

void background_free(struct background *b)
{
    free(b->level);
    free(b->noise);
    memset(b, 0, sizeof *b);
}
