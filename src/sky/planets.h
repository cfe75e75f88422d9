/* sky/planets.h: where the planets stand. Through ERFA: eraPlan94 (Simon et al. 1994, A&A 282, 663)
 * and eraEpv00 for the Earth. */
#ifndef ALIDADE_SKY_PLANETS_H
#define ALIDADE_SKY_PLANETS_H

#include "sky/time.h"

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

/* Direction from the Earth's centre, corrected for the time that light takes: a unit vector on the
 * axes of ICRS, comparable with catalogue places of stars. Good to about an arcminute from 1800 to
 * 2050. False, with v untouched, if the time is one that ERFA refuses. */
bool planet_from_earth(double v[3], enum planet planet, struct utc utc);

#endif
