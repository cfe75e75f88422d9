/* tripod/ground.h: directions as a tripod has them: fixed to the ground, while the sky turns. */
#ifndef ALIDADE_TRIPOD_GROUND_H
#define ALIDADE_TRIPOD_GROUND_H

#include "sky/horizon.h"

#include <stdbool.h>

/* With a place the axes are east, north and up, and directions are as seen there, refraction
 * included. Without one they are the axes of ICRS at the moment, and the sky turns about its pole.
 */
struct ground {
    bool has_place;
    struct place place; /* if it has; so is horizon */
    struct horizon horizon;
    struct utc utc;
    double pole[3]; /* the one that the sky turns about; ICRS */
};

/* place may be NULL: then utc may be off by days. False if ERFA refuses the time. */
bool ground_make(struct ground *ground, const struct place *place, struct utc utc);

/* Where on the ground's axes the ICRS direction v stands later_s seconds after the moment, and
 * back; unit vectors. out may be v. */
void ground_from_sky(double out[3], const struct ground *ground, const double v[3], double later_s);
void ground_to_sky(double out[3], const struct ground *ground, const double v[3], double later_s);

#endif
