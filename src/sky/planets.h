/* sky/planets.h: where the planets stand. Through ERFA: eraPlan94 (Simon et al. 1994, A&A 282, 663)
 * and eraEpv00 for the Earth. */
#ifndef ALIDADE_SKY_PLANETS_H
#define ALIDADE_SKY_PLANETS_H

#include "sky/horizon.h"

#include <stdbool.h>

enum planet {
    PLANET_MERCURY,
    PLANET_VENUS,
    PLANET_MARS,
    PLANET_JUPITER,
    PLANET_SATURN,
    PLANET_URANUS,
    PLANET_NEPTUNE,
    PLANETS
};

/* "Jupiter". */
const char *planet_name(enum planet planet);

/* Where it stands among the stars as catalogues have them, seen from a place, NULL for the Earth's
 * centre: corrected for the time that light takes and not for aberration, which moves the stars
 * beside it alike; a unit vector on the axes of ICRS. From 1800 to 2050 eraPlan94 is within 4"
 * (Mercury) to 86" (Saturn, Uranus) in longitude as seen from the Sun. False, with v untouched, if
 * the time is one that ERFA refuses. */
bool planet_among_stars(double v[3], enum planet planet, const struct place *place, struct utc utc);

#endif
