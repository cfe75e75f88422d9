/* stars/relief.h: the plane as sources are looked for in it: smoothed, flattened, in units of its
 * own noise. */
#ifndef ALIDADE_STARS_RELIEF_H
#define ALIDADE_STARS_RELIEF_H

#include "image/frame.h"
#include "stars/background.h"
#include "stars/profile.h"

#include <stdbool.h>

/* Starts as all zeros; free with relief_free. */
struct relief {
    int width, height;
    float *smooth;         /* the plane, correlated with the profile; NaN where there is no data */
    float *highest;        /* of it, of each block of a row; see smooth.h */
    float top;             /* of it all */
    struct background sky; /* of the smoothed plane, with no noise below a least one */
    float *per_noise;      /* 1 / noise at the nodes of the sky's mesh */
    /* The first mesh, what was measured on it, and what others are measured on. */
    int mesh;
    struct background first;
    struct background_rest rest;
};

/* Smooths. ERROR_MEMORY only. */
int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int threads,
                struct error *err);

/* Measures the sky and its noise on a mesh of that many plane pixels. Again with another mesh, it
 * costs little (background_again). Must come before what follows. ERROR_MEMORY only. */
int relief_flatten(struct relief *r, int mesh, int threads, struct error *err);

/* Height over the local sky in units of the local noise, at one pixel; 0 where there is no data. */
double relief_level(const struct relief *r, int x, int y);

/* Looks through rows for what may reach a level. Starts as all zeros; free with relief_scan_free.
 */
struct relief_scan {
    const struct relief *r; /* borrowed */
    float *least;   /* of the smoothed plane that may reach the level, block by block, RELIEF_BAND
                       rows at a time */
    int *piece_end; /* of a row of the sky's mesh, see background.h */
};
enum { RELIEF_BAND = 16 };

/* The relief must be flattened and stay as it is. ERROR_MEMORY only. */
int relief_scan_start(struct relief_scan *scan, const struct relief *r, float level,
                      struct error *err);
/* Puts levels of row y into level, width of the plane, and tells of each stretch of them, which
 * ends before end: none left out reaches the level of the scan. Where there is no data they are
 * NaN. What visit returns, false to stop. */
bool relief_scan_row(float *level, const struct relief_scan *scan, int y,
                     bool (*visit)(const float *level, int y, int first, int end, void *context),
                     void *context);
void relief_scan_free(struct relief_scan *scan);

/* Sky and noise of the smoothed plane at pixel (x, y), in the plane's values. */
double relief_sky(const struct relief *r, double x, double y);
double relief_noise(const struct relief *r, double x, double y);

void relief_free(struct relief *r);

#endif
