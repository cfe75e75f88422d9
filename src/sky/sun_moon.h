/* sky/sun_moon.h: the Sun and the Moon: where they stand, when they rise and set. Through ERFA:
 * eraEpv00 for the Earth (Bretagnon & Francou 1988, VSOP), eraMoon98 for the Moon (Meeus 1998, ch.
 * 47; 3 arcsec rms, 20 at most). UT1 is taken for UTC. */
#ifndef ALIDADE_SKY_SUN_MOON_H
#define ALIDADE_SKY_SUN_MOON_H

#include "sky/horizon.h"

#include <stdbool.h>

enum sun_moon { THE_SUN, THE_MOON };

/* As seen from a place, of the centre of the disc, without refraction. */
struct sun_moon_position {
    double ra_deg, dec_deg; /* apparent direction on the axes of ICRS; 0 <= ra_deg < 360 */
    double azimuth_deg, altitude_deg; /* from north through east, 0..360; -90..90 */
    double radius_deg;                /* of the disc */
};

/* False, with *out untouched, if the time is one that ERFA refuses. */
bool sun_moon_from_place(struct sun_moon_position *out, enum sun_moon which,
                         const struct place *place, struct utc utc);

/* The same from the Earth's centre: distance in astronomical units, v a unit vector on the axes of
 * ICRS. False as above. */
bool sun_moon_from_earth(double v[3], double *distance_au, enum sun_moon which, struct utc utc);

/* Where it stands among the stars as catalogues have them: without the aberration that moves it and
 * the stars beside it alike; seen from a place, NULL for the Earth's centre. Outputs and failure as
 * above. */
bool sun_moon_among_stars(double v[3], double *distance_au, enum sun_moon which,
                          const struct place *place, struct utc utc);

/* Radius of the disc as seen from so far away, degrees. */
double sun_moon_radius_deg(enum sun_moon which, double distance_au);

/* The share of the Moon's disc that is lit, 0..1 (Meeus, Astronomical Algorithms, 2nd ed., eq.
 * 48.1 to 48.3), and whether it grows. False as above. */
bool sun_moon_phase(double *lit, bool *waxing, struct utc utc);

/* How the Moon is lit where sun_moon_among_stars puts it: the share of its disc, as above, and the
 * position angle of the middle of its bright limb, degrees east of north (ICRS), 0..360 (eq. 48.5),
 * which means little when the share is near 0 or 1. False as above. */
bool sun_moon_moonlight(double *lit, double *limb_deg, const struct place *place, struct utc utc);

/* Geometric altitudes of the centre of the disc, degrees: rise and set for both (34' of refraction
 * and a radius of 16'; common practice), and the three kinds of twilight of the Sun. */
#define SUN_MOON_RISE_SET (-0.833)
#define SUN_MOON_CIVIL (-6.0)
#define SUN_MOON_NAUTICAL (-12.0)
#define SUN_MOON_ASTRONOMICAL (-18.0)

struct sun_moon_crossing {
    struct utc utc;
    bool rising;
};

enum { SUN_MOON_SAMPLES = 301 };

/* How high it stands every 20 minutes, for several questions about the same hours. */
struct sun_moon_track {
    enum sun_moon which;
    const struct place *place; /* borrowed */
    struct utc start;
    double hours;
    int samples; /* the last one at the end, however near to the one before */
    double altitude_deg[SUN_MOON_SAMPLES];
};

/* For some hours, at most 100, from a time on. False for a time that ERFA refuses. */
bool sun_moon_track_make(struct sun_moon_track *track, enum sun_moon which,
                         const struct place *place, struct utc start, double hours);

/* When it passes an altitude, in order; good to 0.1 s of time. Returns how many there are, at most
 * most; 0 if it stays above or below. A visit of less than a few seconds beyond the altitude may be
 * missed. */
int sun_moon_crossings(struct sun_moon_crossing *out, int most, const struct sun_moon_track *track,
                       double altitude_deg);

/* When it stands highest or lowest (lowest: true), and how high; good to a minute. */
void sun_moon_extreme(struct utc *when, double *altitude_deg, bool lowest,
                      const struct sun_moon_track *track);

#endif
