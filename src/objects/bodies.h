/* objects/bodies.h: Sun, Moon and planets in a picture. */
#ifndef ALIDADE_OBJECTS_BODIES_H
#define ALIDADE_OBJECTS_BODIES_H

#include "match/trust.h"
#include "sky/planets.h"
#include "sky/wcs.h"

enum { BODIES_MOST = PLANETS + 2 };

struct field_body {
    const char *name;       /* "Jupiter" */
    double ra_deg, dec_deg; /* among the stars as catalogues have them, ICRS */
    double x, y;            /* px of its centre, in the picture */
};

/* Those whose centre lies in the picture, at the middle of its exposure; seen from a place, NULL
 * for the Earth's centre, which is off by up to a degree for the Moon. Returns how many. */
int bodies_find(struct field_body body[BODIES_MOST], const struct wcs *wcs,
                const struct place *place, struct utc mid);

/* Leaves those that stand where the solution is proven; returns how many. */
int bodies_keep_proven(struct field_body *body, int count, const struct trust *trust);

#endif
