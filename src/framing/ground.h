/* framing/ground.h: directions as a tripod has them: fixed to the ground, while the sky turns. */
#ifndef ALIDADE_FRAMING_GROUND_H
#define ALIDADE_FRAMING_GROUND_H

#include "sky/horizon.h"

#include <stdbool.h>

/* With a place the axes are east, north and up, and directions are as seen there, refraction
 * included. Without one they are the axes of ICRS at the moment utc, and the sky turns about its
 * pole; then utc may be off by days. All zeros are no moment: utc must be set. */
struct ground {
    bool has_place;
    struct place place;
    struct utc utc;
};

/* Where on the ground's axes the ICRS direction v stands later_s seconds after utc, and back; unit
 * vectors. out may be v. False, with out untouched, if ERFA refuses the time. */
bool ground_from_sky(double out[3], const struct ground *ground, const double v[3],
                     double later_s);
bool ground_to_sky(double out[3], const struct ground *ground, const double v[3], double later_s);

#endif
