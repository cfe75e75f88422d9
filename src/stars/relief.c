#include "stars/relief.h"

#include "base/clamp.h"
#include "base/large.h"
#include "stars/smooth.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Side of a cell in samples, at least, where every second or third pixel of a row and a column is
 * taken for one. Neighbours in the smoothed plane say nearly the same. */
enum { SAMPLES = 6, WIDEST_STEP = 3, LANES = 8 };

/* Compared in lanes, which do not wait for each other. */
static float highest_of(const struct relief *r)
{
    size_t blocks = (size_t)smooth_blocks(r->width) * (size_t)r->height;
    size_t whole = blocks - blocks % LANES;
    float top[LANES], most = -INFINITY;
    for (int k = 0; k < LANES; k++) {
        top[k] = -INFINITY;
    }
    for (size_t i = 0; i < whole; i += LANES) {
        for (int k = 0; k < LANES; k++) {
            top[k] = r->highest[i + (size_t)k] > top[k] ? r->highest[i + (size_t)k] : top[k];
        }
    }
    for (int k = 0; k < LANES; k++) {
        most = top[k] > most ? top[k] : most;
    }
    for (size_t i = whole; i < blocks; i++) {
        most = r->highest[i] > most ? r->highest[i] : most;
    }
    return most;
}

int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int threads,
                struct error *err)
{
    memset(r, 0, sizeof *r);
    r->width = plane->width;
    r->height = plane->height;
    r->smooth = large_alloc((size_t)r->width * (size_t)r->height * sizeof *r->smooth);
    r->highest = malloc((size_t)smooth_blocks(r->width) * (size_t)r->height * sizeof *r->highest);
    int code = r->smooth && r->highest ? smooth_plane(r->smooth, r->highest, plane, p, threads, err)
                                       : error_memory(err);
    if (code) {
        relief_free(r);
    } else {
        r->top = highest_of(r);
    }
    return code;
}

/* Skies clipped to one value have no noise of their own. */
static void set_least_noise(struct relief *r)
{
    int n = r->sky.columns * r->sky.rows;
    double top = (double)r->top - r->sky.typical_level;
    double least = fmax(0.1 * r->sky.typical_noise, fmax(1e-7 * top, 1e-30));
    for (int i = 0; i < n; i++) {
        float noise = r->sky.noise[i];
        r->sky.noise[i] = noise > (float)least ? noise : (float)least;
        r->per_noise[i] = 1 / r->sky.noise[i];
    }
}

static int measure_first(struct relief *r, int mesh, int threads, struct error *err)
{
    int step = (int)clamp(mesh / SAMPLES, 1, WIDEST_STEP);
    r->mesh = mesh;
    /* Smoothed noise is so small that a gradient within one cell would double it: two looks. */
    return background_measure(&r->first, &r->rest, r->smooth, r->width, r->height, mesh, step,
                              threads, err);
}

static int copy_first(struct relief *r, struct error *err)
{
    size_t n = (size_t)r->first.columns * (size_t)r->first.rows;
    r->sky = r->first;
    r->sky.level = malloc(n * sizeof *r->sky.level);
    r->sky.noise = malloc(n * sizeof *r->sky.noise);
    if (!r->sky.level || !r->sky.noise) {
        background_free(&r->sky);
        return error_memory(err);
    }
    memcpy(r->sky.level, r->first.level, n * sizeof *r->sky.level);
    memcpy(r->sky.noise, r->first.noise, n * sizeof *r->sky.noise);
    return 0;
}

int relief_flatten(struct relief *r, int mesh, int threads, struct error *err)
{
    background_free(&r->sky);
    free(r->per_noise);
    r->per_noise = NULL;
    int code = r->mesh ? 0 : measure_first(r, mesh, threads, err);
    if (!code) {
        code = mesh == r->mesh ? copy_first(r, err)
                               : background_again(&r->sky, &r->rest, &r->first, mesh, threads, err);
    }
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

double relief_level(const struct relief *r, int x, int y)
{
    double v = (double)r->smooth[(size_t)y * (size_t)r->width + (size_t)x];
    struct background_place place = background_place(&r->sky, x, y);
    return isnan(v)
               ? 0
               : (v - background_at(&place, r->sky.level)) * background_at(&place, r->per_noise);
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
    free(r->highest);
    free(r->per_noise);
    background_free(&r->sky);
    background_free(&r->first);
    background_rest_free(&r->rest);
    memset(r, 0, sizeof *r);
}
