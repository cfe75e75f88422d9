#include "order_stars.h"

#include "match/index_layout.h"

#include <chealpix.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { THIN_SIDE = 64, THIN_CELLS = 12 * THIN_SIDE * THIN_SIDE, THIN_BINS = 256 };

static long star_cell(const struct catalogue_star *star, long side)
{
    double v[3];
    for (int i = 0; i < 3; i++) {
        v[i] = star->v[i];
    }
    long pixel;
    vec2pix_nest(side, v, &pixel);
    return pixel;
}

/* Magnitudes -2 to 24 in steps of 0.1 are told apart when thinning. */
static int magnitude_bin(int mag)
{
    int bin = (mag + 2000) / 100;
    return bin < 0 ? 0 : bin >= THIN_BINS ? THIN_BINS - 1 : bin;
}

static void drop_fainter(struct catalogue *catalogue, double faintest)
{
    long kept = 0;
    for (long i = 0; i < catalogue->count; i++) {
        if (!(catalogue->star[i].mag > faintest * 1000)) {
            catalogue->star[kept++] = catalogue->star[i];
        }
    }
    catalogue->count = kept;
}

/* For each cell the first magnitude bin that no longer fits. */
static void find_limits(unsigned char *limit, uint32_t *histogram, double per_cell)
{
    for (long cell = 0; cell < THIN_CELLS; cell++) {
        double sum = 0;
        int bin = 0;
        while (bin < THIN_BINS - 1 && sum + histogram[cell * THIN_BINS + bin] <= per_cell) {
            sum += histogram[cell * THIN_BINS + bin];
            bin++;
        }
        limit[cell] = (unsigned char)bin;
    }
}

int order_thin(struct catalogue *catalogue, double faintest, double density, struct error *err)
{
    drop_fainter(catalogue, faintest);
    double per_cell = density * 41252.96 / THIN_CELLS;
    if ((double)catalogue->count <= per_cell) {
        return 0;
    }
    uint32_t *histogram = calloc((size_t)THIN_CELLS * THIN_BINS, sizeof *histogram);
    unsigned char *limit = malloc(THIN_CELLS);
    if (!histogram || !limit) {
        free(histogram);
        free(limit);
        return error_memory(err);
    }
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *star = &catalogue->star[i];
        histogram[star_cell(star, THIN_SIDE) * THIN_BINS + magnitude_bin(star->mag)]++;
    }
    find_limits(limit, histogram, per_cell);
    long kept = 0;
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *star = &catalogue->star[i];
        if (magnitude_bin(star->mag) < limit[star_cell(star, THIN_SIDE)]) {
            catalogue->star[kept++] = *star;
        }
    }
    catalogue->count = kept;
    free(histogram);
    free(limit);
    return 0;
}

static int compare_int(int a, int b)
{
    return (a > b) - (a < b);
}

static int compare_brightness(const void *left, const void *right)
{
    const struct catalogue_star *a = left, *b = right;
    int c = compare_int(a->mag, b->mag);
    c = c ? c : (a->id > b->id) - (a->id < b->id);
    for (int i = 0; i < 3 && !c; i++) {
        c = compare_int(a->v[i], b->v[i]);
    }
    return c ? c : compare_int(a->colour, b->colour);
}

struct placed_star {
    uint32_t cell, rank;
};

static int compare_placed(const void *left, const void *right)
{
    const struct placed_star *a = left, *b = right;
    int c = (a->cell > b->cell) - (a->cell < b->cell);
    return c ? c : (a->rank > b->rank) - (a->rank < b->rank);
}

static int count_levels(long stars)
{
    int levels = 1;
    while (levels < INDEX_MAX_LEVELS && 16 * (((long)1 << (2 * levels)) - 1) < stars) {
        levels++;
    }
    return levels;
}

/* Cell of each star, numbered through all levels; the catalogue is in order of brightness. */
static void place_stars(struct placed_star *placed, const struct catalogue *catalogue, int levels)
{
    int level = 0;
    for (long i = 0; i < catalogue->count; i++) {
        while (level < levels - 1 && i >= 16 * (((long)1 << (2 * (level + 1))) - 1)) {
            level++;
        }
        uint32_t pixel = (uint32_t)star_cell(&catalogue->star[i], (long)1 << level);
        placed[i].cell = index_first_cell(level) + pixel;
        placed[i].rank = (uint32_t)i;
    }
}

static void fill_cells(struct index_cell *cells, int levels, const struct placed_star *placed,
                       long stars)
{
    uint32_t cell = 0;
    long star = 0;
    for (int level = 0; level < levels; level++) {
        long side = (long)1 << level;
        for (long pixel = 0; pixel < 12 * side * side; pixel++, cell++) {
            double v[3];
            pix2vec_nest(side, pixel, v);
            for (int i = 0; i < 3; i++) {
                cells[cell].v[i] = (float)v[i];
            }
            cells[cell].first_star = (uint32_t)star;
            while (star < stars && placed[star].cell == cell) {
                star++;
            }
        }
    }
    cells[cell] = (struct index_cell){{0, 0, 0}, (uint32_t)stars};
}

static int reorder(struct catalogue *catalogue, const struct placed_star *placed)
{
    struct catalogue_star *star = malloc((size_t)catalogue->count * sizeof *star);
    if (!star) {
        return ERROR_MEMORY;
    }
    for (long i = 0; i < catalogue->count; i++) {
        star[i] = catalogue->star[placed[i].rank];
    }
    free(catalogue->star);
    catalogue->star = star;
    catalogue->capacity = catalogue->count;
    return 0;
}

int order_stars(struct index_cell **cells, int *levels, struct catalogue *catalogue,
                struct error *err)
{
    size_t count = (size_t)catalogue->count;
    qsort(catalogue->star, count, sizeof *catalogue->star, compare_brightness);
    int made_levels = count_levels(catalogue->count);
    struct placed_star *placed = malloc(count * sizeof *placed);
    struct index_cell *made = malloc((index_first_cell(made_levels) + 1) * sizeof *made);
    if (!placed || !made) {
        free(placed);
        free(made);
        return error_memory(err);
    }
    place_stars(placed, catalogue, made_levels);
    qsort(placed, count, sizeof *placed, compare_placed);
    fill_cells(made, made_levels, placed, catalogue->count);
    int code = reorder(catalogue, placed);
    free(placed);
    if (code) {
        free(made);
        return error_memory(err);
    }
    *cells = made;
    *levels = made_levels;
    return 0;
}
