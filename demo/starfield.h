/* demo/starfield.h: the sky that the demo photographs: the listed stars and made-up faint ones.
 *
 * Hipparcos is complete to V about 7.5 only; a frame shows many stars that no list here holds.
 * The shortfall against the real sky's star counts is filled with stars at random places, which
 * depend on nothing but the seed: each frame, from wherever it looks, sees the same ones. */
#ifndef ALIDADE_DEMO_STARFIELD_H
#define ALIDADE_DEMO_STARFIELD_H

#include "base/error.h"

#include <stdint.h>

struct sky_star {
    double v[3]; /* ICRS unit vector */
    float mag;   /* V */
    float b_v;
    uint32_t hip; /* 0: made up */
};

enum { STARFIELD_BANDS = 180, STARFIELD_BINS = 19, STARFIELD_BELTS = 10 };

/* Starts as all zeros; constant once loaded, so threads may share it. */
struct starfield {
    struct sky_star *star; /* by cell, brightest first in each */
    int count;
    /* Cells of about a square degree: bands of a degree in declination, from the south. */
    int band_start[STARFIELD_BANDS + 1]; /* first cell of each band */
    int *cell_start;                     /* first star of each cell, and one more at the end */
    uint64_t seed;
    /* Made-up stars a square degree, by half magnitudes from V 6.5, by tenths of |sin(b)|. */
    double missing[STARFIELD_BINS][STARFIELD_BELTS];
};

/* Reads a table with columns ra_deg, dec_deg, v_mag, b_v and hip (catalogs/stars.tsv). ERROR_INPUT,
 * ERROR_MEMORY; on failure the field is empty. */
int starfield_load(struct starfield *field, const char *name, uint64_t seed, struct error *err);
void starfield_free(struct starfield *field);

/* What a look at a part of the sky finds. Starts as all zeros; may be used again and again. */
struct sky_view {
    struct sky_star *star;
    int count, capacity;
};

/* All stars within radius_deg (0..180) of the ICRS unit vector v and brighter than V = limit (what
 * is made up ends at V 16), in no particular order. Replaces what the view held. ERROR_MEMORY. */
int starfield_look(struct sky_view *view, const struct starfield *field, const double v[3],
                   double radius_deg, double limit, struct error *err);
void sky_view_free(struct sky_view *view);

/* Stars brighter than V = mag over the whole sky (6 <= mag <= 16; from memory, after the tables in
 * Allen's Astrophysical Quantities), and how many times the mean they stand at |sin(b)|, b the
 * galactic latitude. */
double starfield_whole_sky(double mag);
double starfield_crowding(double mag, double sin_b);

#endif
