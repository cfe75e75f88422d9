/* sky/rates.h: how fast the sky turns, and the day that clocks of computers count from. */
#ifndef ALIDADE_SKY_RATES_H
#define ALIDADE_SKY_RATES_H

#include "base/units.h"

/* Turns of the Earth against the stars (ICRS) in a day of UT1: the rate of the Earth rotation angle
 * (IAU 2000, resolution B1.8; IERS Conventions 2010, eq. 5.15). */
#define EARTH_TURNS_PER_DAY 1.00273781191135448

/* The same in arcseconds, degrees and radians a second: 15.0410672", and the time of one turn. */
#define SIDEREAL_ARCSEC_S (15 * EARTH_TURNS_PER_DAY)
#define SIDEREAL_DEG_S (SIDEREAL_ARCSEC_S / 3600)
#define SIDEREAL_RAD_S (SIDEREAL_ARCSEC_S / ARCSEC_PER_RAD)
#define SIDEREAL_DAY_S (86400 / EARTH_TURNS_PER_DAY)

/* Julian date of 1970 January 1, 0 h UTC. */
#define UNIX_EPOCH_JD 2440587.5

#endif
