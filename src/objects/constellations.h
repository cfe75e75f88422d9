/* objects/constellations.h: names of the 88 constellations. */
#ifndef ALIDADE_OBJECTS_CONSTELLATIONS_H
#define ALIDADE_OBJECTS_CONSTELLATIONS_H

#include "base/error.h"

enum { CONSTELLATIONS_MAX = 100 };

struct constellation {
    char abbreviation[4]; /* "UMa" */
    char name[32];        /* "Ursa Major"; UTF-8 */
    char genitive[32];    /* "Ursae Majoris" */
    char english[40];
    double label_ra_deg, label_dec_deg; /* where to write the name; ICRS */
};

/* Serpens comes twice, as its two parts. Starts as all zeros; holds no memory of its own. */
struct constellations {
    struct constellation item[CONSTELLATIONS_MAX];
    int count;
};

/* Reads constellations.tsv in the folder. ERROR_INPUT. */
int constellations_load(struct constellations *constellations, const char *folder,
                        struct error *err);

/* The one with this abbreviation, or NULL; of Serpens the part whose name stands nearer to the
 * place, ICRS. */
const struct constellation *constellations_find(const struct constellations *constellations,
                                                const char *abbreviation, double ra_deg,
                                                double dec_deg);

#endif
