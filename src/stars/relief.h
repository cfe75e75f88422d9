/* stars/relief.h: the plane as sources are looked for in it: smoothed, flattened, in units of its
 * own noise. */
#ifndef ALIDADE_STARS_RELIEF_H
#define ALIDADE_STARS_RELIEF_H

#include "image/frame.h"
#include "stars/background.h"
#include "stars/profile.h"

/* Starts as all zeros; free with relief_free. */
struct relief {
    int width, height;
    float *smooth;         /* the plane, correlated with the profile; NaN where there is no data */
    float highest;         /* of it */
    struct background sky; /* of the smoothed plane, with no noise below a least one */
    float *per_noise;      /* 1 / noise at the nodes of the sky's mesh */
};

/* Smooths. ERROR_MEMORY only. */
int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int threads,
                struct error *err);

/* Measures the sky and its noise on a mesh of that many plane pixels, and can do so again with
 * another mesh. Must come before what follows. ERROR_MEMORY only. */
int relief_flatten(struct relief *r, int mesh, int threads, struct error *err);

/* Height over the local sky in units of the local noise: of all pixels of row y, NaN where there is
 * no data; or of one, 0 where there is none. */
void relief_row(float *level, const struct relief *r, int y);
double relief_level(const struct relief *r, int x, int y);

/* Sky and noise of the smoothed plane at pixel (x, y), in the plane's values. */
double relief_sky(const struct relief *r, double x, double y);
double relief_noise(const struct relief *r, double x, double y);

void relief_free(struct relief *r);

#endif
