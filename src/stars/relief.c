#include "stars/relief.h"

#include "base/clamp.h"
#include "base/large.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RUN 8 /* pixels over which the noise is taken as the same */

/* Side of a cell in samples, at least, where every second or third pixel of a row and a column is
 * taken for one. Neighbours in the smoothed plane say nearly the same. */
enum { SAMPLES = 12, WIDEST_STEP = 3 };

double relief_sky(const struct relief *r, double x, double y)
{
    return background_level(&r->sky, x, y) + background_level(&r->rest, x, y);
}

double relief_noise(const struct relief *r, double x, double y)
{
    return fmax(background_noise(&r->rest, x, y), r->least_noise);
}

/* The largest value, 0 if none is larger; kept for every place in a run, so that they are compared
 * side by side. */
static float highest(const float *value, size_t n)
{
    float top[RUN] = {0}, most = 0;
    size_t whole = n - n % RUN;
    for (size_t i = 0; i < whole; i += RUN) {
        for (int k = 0; k < RUN; k++) {
            top[k] = value[i + (size_t)k] > top[k] ? value[i + (size_t)k] : top[k];
        }
    }
    for (int k = 0; k < RUN; k++) {
        most = top[k] > most ? top[k] : most;
    }
    for (size_t i = whole; i < n; i++) {
        most = value[i] > most ? value[i] : most; /* false for NaN */
    }
    return most;
}

static void scale_run(float *value, float scale, int n)
{
    for (int i = 0; i < n; i++) {
        value[i] = isnan(value[i]) ? 0 : value[i] * scale;
    }
}

static void normalise(struct relief *r)
{
    for (int y = 0; y < r->height; y++) {
        float *row = r->level + (size_t)y * (size_t)r->width;
        for (int x = 0; x < r->width; x += RUN) {
            float inverse = (float)(1 / relief_noise(r, x + RUN / 2.0, y));
            if (x + RUN <= r->width) {
                scale_run(row + x, inverse, RUN);
            } else {
                scale_run(row + x, inverse, r->width - x);
            }
        }
    }
}

int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int mesh,
                struct error *err)
{
    memset(r, 0, sizeof *r);
    int w = plane->width, h = plane->height;
    int step = (int)clamp(mesh / SAMPLES, 1, WIDEST_STEP);
    size_t n = (size_t)w * (size_t)h;
    r->width = w;
    r->height = h;
    r->level = large_alloc(n * sizeof *r->level);
    int code = r->level ? profile_smooth(r->level, plane, p, err) : error_memory(err);
    if (!code) {
        code = background_measure(&r->sky, r->level, w, h, mesh, step, err);
    }
    if (!code) {
        background_subtract(r->level, w, h, &r->sky);
        /* Smoothed noise is so small that a gradient within one cell would double it; with the
         * gradient gone, the second look sees the noise alone. */
        code = background_measure(&r->rest, r->level, w, h, mesh, step, err);
    }
    if (!code) {
        background_subtract(r->level, w, h, &r->rest);
        /* Skies clipped to one value have no noise of their own. */
        float top = highest(r->level, n);
        r->least_noise = fmax(0.1 * r->rest.typical_noise, fmax(1e-7 * (double)top, 1e-30));
        normalise(r);
        r->top = (double)highest(r->level, n);
    } else {
        relief_free(r);
    }
    return code;
}

void relief_free(struct relief *r)
{
    free(r->level);
    background_free(&r->sky);
    background_free(&r->rest);
    memset(r, 0, sizeof *r);
}
