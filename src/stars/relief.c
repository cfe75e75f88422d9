#include "stars/relief.h"

#include "base/clamp.h"
#include "base/large.h"
#include "stars/smooth.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Side of a cell in samples, at least, where every second or third pixel of a row and a column is
 * taken for one. Neighbours in the smoothed plane say nearly the same. */
enum { SAMPLES = 6, WIDEST_STEP = 3 };

int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int threads,
                struct error *err)
{
    memset(r, 0, sizeof *r);
    r->width = plane->width;
    r->height = plane->height;
    r->smooth = large_alloc((size_t)r->width * (size_t)r->height * sizeof *r->smooth);
    int code = r->smooth ? smooth_plane(r->smooth, &r->highest, plane, p, threads, err)
                         : error_memory(err);
    if (code) {
        relief_free(r);
    }
    return code;
}

/* Skies clipped to one value have no noise of their own. */
static void set_least_noise(struct relief *r)
{
    int n = r->sky.columns * r->sky.rows;
    double top = (double)r->highest - r->sky.typical_level;
    double least = fmax(0.1 * r->sky.typical_noise, fmax(1e-7 * top, 1e-30));
    for (int i = 0; i < n; i++) {
        r->sky.noise[i] = fmaxf(r->sky.noise[i], (float)least);
        r->per_noise[i] = 1 / r->sky.noise[i];
    }
}

int relief_flatten(struct relief *r, int mesh, int threads, struct error *err)
{
    int step = (int)clamp(mesh / SAMPLES, 1, WIDEST_STEP);
    background_free(&r->sky);
    free(r->per_noise);
    r->per_noise = NULL;
    /* Smoothed noise is so small that a gradient within one cell would double it: two looks. */
    int code =
        background_measure(&r->sky, r->smooth, r->width, r->height, mesh, step, 2, threads, err);
    if (!code) {
        size_t n = (size_t)r->sky.columns * (size_t)r->sky.rows;
        r->per_noise = malloc(n * sizeof *r->per_noise);
        code = r->per_noise ? 0 : error_memory(err);
    }
    if (!code) {
        set_least_noise(r);
    }
    return code;
}

static void flatten_piece(float *restrict level, const float *restrict smooth, struct straight sky,
                          struct straight scale, int n)
{
    for (int i = 0; i < n; i++) {
        float k = (float)i;
        level[i] = (smooth[i] - (sky.first + sky.step * k)) * (scale.first + scale.step * k);
    }
}

void relief_row(float *level, const struct relief *r, int y)
{
    const struct background *sky = &r->sky;
    const float *smooth = r->smooth + (size_t)y * (size_t)r->width;
    struct background_row row = background_row(sky, y);
    for (int piece = 0, x = 0; piece <= sky->columns && x < r->width; piece++) {
        int end = background_piece_end(sky, piece, r->width);
        flatten_piece(level + x, smooth + x, background_piece(&row, sky->level, piece, x),
                      background_piece(&row, r->per_noise, piece, x), end - x);
        x = end;
    }
}

double relief_level(const struct relief *r, int x, int y)
{
    double v = (double)r->smooth[(size_t)y * (size_t)r->width + (size_t)x];
    return isnan(v) ? 0
                    : (v - relief_sky(r, x, y)) * background_between(&r->sky, r->per_noise, x, y);
}

double relief_sky(const struct relief *r, double x, double y)
{
    return background_level(&r->sky, x, y);
}

double relief_noise(const struct relief *r, double x, double y)
{
    return 1 / background_between(&r->sky, r->per_noise, x, y);
}

void relief_free(struct relief *r)
{
    free(r->smooth);
    free(r->per_noise);
    background_free(&r->sky);
    memset(r, 0, sizeof *r);
}
