/* stars/measure.h: light, place and shape of one source, once its pixels are known. */
#ifndef ALIDADE_STARS_MEASURE_H
#define ALIDADE_STARS_MEASURE_H

#include "stars/relief.h"

#include <stdbool.h>

/* Sources are the pixels connected above this level of the relief. */
#define MEASURE_ISOPHOTE 3.5

/* How the star of the profile fitted a source. With another sky the place stays as it is, and the
 * light follows by the weights. */
struct profile_fit {
    double sky;
    double light, norm, weight; /* sums of weight times light, of its square, of the weights */
    double highest_weight;      /* at the highest pixel */
    int highest;                /* its index in the plane; -1: nothing fitted */
};

/* Plane pixels, origin at the centre of the plane's first pixel; values of the plane. */
struct source {
    /* given */
    const int *pixel;   /* borrowed: the source's pixels, as rising indices into the plane ... */
    const float *level; /* ... and the relief there */
    int pixels;
    int left, right, upper, lower; /* their bounding box */
    int peak_x, peak_y;            /* highest pixel of the relief */
    double height;                 /* the relief there; measure_surround takes the ground off */
    bool merged;                   /* cut out of a larger source */
    /* found by measure_surround, in levels of the relief */
    double ground; /* what the source stands on */
    double reach;  /* how far from the peak its pixels count; 0: no limit */
    double edge;   /* its steepest fall over that of a star of the profile; 0: not looked at */
    /* found by measure_source */
    double x, y;
    double peak;          /* highest value over the sky */
    double light;         /* of its pixels above a share of the height */
    double whole;         /* the same with what lies below that share */
    double profile_light; /* of the star of the profile that fits best */
    double rest;          /* the same without the highest pixel, over it: near 0 for a hot pixel */
    struct profile shape; /* second moments of that light */
    struct profile outline; /* second moments of all its pixels, each counted the same */
    int clipped;            /* pixels at the plane's full value */
    bool broad;             /* core far wider than the profile's */
    struct profile_fit fit;
    /* found by sift_sources */
    double flux;
    bool dropped;
};

/* Level of the surroundings, which for a star before a nebula or beside others isn't the sky's. */
void measure_surround(struct source *s, const struct relief *r, const struct profile *p);

/* known: the same peak as it was measured before against the same profile, whose place is taken if
 * neither is broad; NULL: none. */
void measure_source(struct source *s, const struct plane *plane, const struct relief *r,
                    const struct profile *p, const struct source *known);

#endif
