/* stars/relief.h: the plane as sources are looked for in it: smoothed, flattened, in units of its
 * own noise. */
#ifndef ALIDADE_STARS_RELIEF_H
#define ALIDADE_STARS_RELIEF_H

#include "stars/background.h"
#include "stars/profile.h"

/* Starts as all zeros; free with relief_free. */
struct relief {
    int width, height;
    float *level; /* over the local sky, in units of the local noise; 0 where there is no data */
    double top;   /* the highest level; 0: the plane is flat */
    struct background sky, rest; /* the rest is what the sky's mesh left, and its noise */
    double least_noise;
};

/* mesh: side of the sky's cells, plane pixels. ERROR_MEMORY only. */
int relief_make(struct relief *r, const struct plane *plane, const struct profile *p, int mesh,
                struct error *err);

/* Sky and noise of the smoothed plane at pixel (x, y), in the plane's values. */
double relief_sky(const struct relief *r, double x, double y);
double relief_noise(const struct relief *r, double x, double y);

void relief_free(struct relief *r);

#endif
