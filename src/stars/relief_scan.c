/* stars/relief_scan.c: most of a plane is sky, and is passed over without being flattened.
 *
 * The level at a pixel is that of the smoothed plane less the sky, times the inverse of the noise;
 * both lie between those of the mesh's nodes around. So the lowest sky and the least noise near a
 * block tell how high the smoothed plane must be there, and the highest pixel of each block of a
 * row is known. */
#include "stars/relief.h"

#include "base/prefetch.h"
#include "stars/smooth.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Of a product of rounded numbers, and of differences of them. */
#define ROUNDING 1e-5F

/* The nodes between which pixels first..last lie, in a row or column of n. */
static void nodes_around(int *low, int *high, int first, int last, double cell, int n)
{
    int before = (int)floor((first + 0.5) / cell - 0.5);
    int after = (int)floor((last + 0.5) / cell - 0.5) + 1;
    *low = before < 0 ? 0 : before > n - 1 ? n - 1 : before;
    *high = after < 0 ? 0 : after > n - 1 ? n - 1 : after;
}

/* What the smoothed plane must reach somewhere in a block of some rows. */
static float least_of_block(const struct relief *r, int column, int band, float level)
{
    const struct background *b = &r->sky;
    int left, right, upper, lower, x = column * SMOOTH_BLOCK, y = band * RELIEF_BAND;
    nodes_around(&left, &right, x, x + SMOOTH_BLOCK - 1, b->cell, b->columns);
    nodes_around(&upper, &lower, y, y + RELIEF_BAND - 1, b->cell, b->rows);
    float sky = INFINITY, per_noise = 0, size = 0;
    for (int j = upper; j <= lower; j++) {
        for (int i = left; i <= right; i++) {
            int at = j * b->columns + i;
            float here = b->level[at], per = r->per_noise[at];
            sky = here < sky ? here : sky;
            size = fabsf(here) > size ? fabsf(here) : size;
            per_noise = per > per_noise ? per : per_noise;
        }
    }
    float above = level / per_noise * (1 - ROUNDING);
    return sky + above - ROUNDING * (size + above);
}

int relief_scan_start(struct relief_scan *scan, const struct relief *r, float level,
                      struct error *err)
{
    int blocks = smooth_blocks(r->width), bands = (r->height + RELIEF_BAND - 1) / RELIEF_BAND;
    *scan = (struct relief_scan){.r = r};
    scan->least = malloc((size_t)blocks * (size_t)bands * sizeof *scan->least);
    scan->piece_end = malloc(((size_t)r->sky.columns + 1) * sizeof *scan->piece_end);
    if (!scan->least || !scan->piece_end) {
        relief_scan_free(scan);
        return error_memory(err);
    }
    for (int i = 0; i <= r->sky.columns; i++) {
        scan->piece_end[i] = background_piece_end(&r->sky, i, r->width);
    }
    for (int j = 0; j < bands; j++) {
        for (int i = 0; i < blocks; i++) {
            scan->least[j * blocks + i] = least_of_block(r, i, j, level);
        }
    }
    return 0;
}

static void flatten_piece(float *restrict level, const float *restrict smooth, struct straight sky,
                          struct straight scale, int from, int n)
{
    for (int i = 0; i < n; i++) {
        float k = (float)(from + i);
        level[i] = (smooth[i] - (sky.first + sky.step * k)) * (scale.first + scale.step * k);
    }
}

/* Pixels x..end, which lie in piece at least; returns the one that end lies in. */
static int flatten(float *level, const struct relief_scan *scan, const float *smooth,
                   const struct background_row *row, int piece, int x, int end)
{
    const struct relief *r = scan->r;
    while (x < end) {
        while (scan->piece_end[piece] <= x) {
            piece++;
        }
        int start = piece > 0 ? scan->piece_end[piece - 1] : 0;
        int stop = scan->piece_end[piece] < end ? scan->piece_end[piece] : end;
        flatten_piece(level + x, smooth + x, background_piece(row, r->sky.level, piece, start),
                      background_piece(row, r->per_noise, piece, start), x - start, stop - x);
        x = stop;
    }
    return piece;
}

/* What of a row will be flattened lies far apart. */
static void expect_row(const struct relief_scan *scan, int y)
{
    const struct relief *r = scan->r;
    int blocks = smooth_blocks(r->width);
    const float *least = scan->least + (size_t)(y / RELIEF_BAND) * (size_t)blocks;
    const float *highest = r->highest + (size_t)y * (size_t)blocks;
    const float *smooth = r->smooth + (size_t)y * (size_t)r->width;
    for (int i = 0; i < blocks; i++) {
        if (!(highest[i] < least[i])) {
            prefetch(smooth + i * SMOOTH_BLOCK);
            prefetch(smooth + i * SMOOTH_BLOCK + SMOOTH_BLOCK / 2);
            prefetch(smooth + i * SMOOTH_BLOCK + SMOOTH_BLOCK - 1);
        }
    }
}

bool relief_scan_row(float *level, const struct relief_scan *scan, int y,
                     bool (*visit)(const float *level, int y, int first, int end, void *context),
                     void *context)
{
    const struct relief *r = scan->r;
    int blocks = smooth_blocks(r->width), piece = 0;
    const float *least = scan->least + (size_t)(y / RELIEF_BAND) * (size_t)blocks;
    const float *highest = r->highest + (size_t)y * (size_t)blocks;
    const float *smooth = r->smooth + (size_t)y * (size_t)r->width;
    struct background_row row = background_row(&r->sky, y);
    if (y + 1 < r->height) {
        expect_row(scan, y + 1);
    }
    for (int i = 0; i < blocks; i++) {
        if (highest[i] < least[i]) {
            continue;
        }
        int first = i * SMOOTH_BLOCK;
        while (i + 1 < blocks && !(highest[i + 1] < least[i + 1])) {
            i++;
        }
        int end = (i + 1) * SMOOTH_BLOCK < r->width ? (i + 1) * SMOOTH_BLOCK : r->width;
        piece = flatten(level, scan, smooth, &row, piece, first, end);
        if (!visit(level, y, first, end, context)) {
            return false;
        }
    }
    return true;
}

void relief_scan_free(struct relief_scan *scan)
{
    free(scan->least);
    free(scan->piece_end);
    memset(scan, 0, sizeof *scan);
}
