/* sky/horizon.h: between the sky and the horizon of a place. Through ERFA (IAU 2006/2000A
 * precession and nutation, aberration, light deflection). UT1 is taken for UTC and the pole for
 * fixed: up to 13 arcsec in hour angle. */
#ifndef ALIDADE_SKY_HORIZON_H
#define ALIDADE_SKY_HORIZON_H

#include "sky/time.h"

#include <erfa.h>
#include <stdbool.h>

struct place {
    double latitude_deg;  /* north positive, geodetic, -90..90 */
    double longitude_deg; /* east positive, -180..360 */
    double height_m;      /* above the ellipsoid */
    /* Of the air, for refraction in green light; pressure 0: none. Below an altitude of about 3
     * degrees refraction is a guess. */
    double pressure_hpa, temperature_c;
};

/* Pressure of the standard atmosphere (ICAO Doc 7488) at a height in metres, up to 11 km; hPa. */
double horizon_usual_pressure(double height_m);

/* Azimuth from north through east, [0, 360), and altitude, -90..90 (degrees), of an ICRS direction.
 * False, with outputs untouched, if the time is one that ERFA refuses. Inverse: horizon_to_radec.
 */
bool horizon_from_radec(double *azimuth_deg, double *altitude_deg, const struct place *place,
                        struct utc utc, double ra_deg, double dec_deg);
bool horizon_to_radec(double *ra_deg, double *dec_deg, const struct place *place, struct utc utc,
                      double azimuth_deg, double altitude_deg);

/* A unit vector with the axes east, north and up, of an azimuth and altitude in degrees, and back:
 * azimuth [0, 360), 0 straight above and below. */
void horizon_vector(double v[3], double azimuth_deg, double altitude_deg);
void horizon_angles(double *azimuth_deg, double *altitude_deg, const double v[3]);

/* A place and a moment made ready for many directions: a hundred times as fast. */
struct horizon {
    struct utc utc;
    eraASTROM sky; /* ERFA's parameters for the moment */
};

/* False if ERFA refuses the time. */
bool horizon_make(struct horizon *horizon, const struct place *place, struct utc utc);

/* To the last bit what horizon_from_radec, horizon_to_radec and horizon_zenith_angle give, which
 * make it anew each time. */
void horizon_find(double *azimuth_deg, double *altitude_deg, const struct horizon *horizon,
                  double ra_deg, double dec_deg);
void horizon_radec(double *ra_deg, double *dec_deg, const struct horizon *horizon,
                   double azimuth_deg, double altitude_deg);
double horizon_zenith(const struct horizon *horizon, double ra_deg, double dec_deg);

/* The ICRS direction v as it stands later_s seconds later on the axes east, north and up, and back;
 * unit vectors. out may be v. Aberration stays that of the moment: within a day this is off by up
 * to 0.7 arcsec from horizon_from_radec. */
void horizon_see(double out[3], const struct horizon *horizon, const double v[3], double later_s);
void horizon_unsee(double out[3], const struct horizon *horizon, const double v[3], double later_s);

/* Position angle of the zenith at an ICRS direction: degrees east of north, [0, 360). False as
 * above. */
bool horizon_zenith_angle(double *angle_deg, const struct place *place, struct utc utc,
                          double ra_deg, double dec_deg);

/* ICRS direction of the pole that the sky turns about at that time (the celestial intermediate
 * pole): unit vector. */
void horizon_pole(double v[3], struct utc utc);

#endif
