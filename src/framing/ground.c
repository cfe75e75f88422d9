#include "framing/ground.h"

#include "sky/vector.h"

#include <string.h>

/* One turn in a sidereal day (Earth rotation angle, IAU 2000 resolution B1.8, and precession). */
static const double turn_deg_s = 360.98564736629 / 86400;

static void turn_sky(double out[3], const struct ground *ground, const double v[3], double angle_deg)
{
    double pole[3], turned[3] = {v[0], v[1], v[2]};
    horizon_pole(pole, ground->utc);
    vector_turn(turned, pole, angle_deg);
    memcpy(out, turned, sizeof turned);
}

bool ground_from_sky(double out[3], const struct ground *ground, const double v[3], double later_s)
{
    double ra, dec, azimuth, altitude;
    if (!ground->has_place) {
        turn_sky(out, ground, v, -turn_deg_s * later_s);
        return true;
    }
    vector_to_radec(&ra, &dec, v);
    if (!horizon_from_radec(&azimuth, &altitude, &ground->place, time_add(ground->utc, later_s), ra,
                            dec)) {
        return false;
    }
    horizon_vector(out, azimuth, altitude);
    return true;
}

bool ground_to_sky(double out[3], const struct ground *ground, const double v[3], double later_s)
{
    double ra, dec, azimuth, altitude;
    if (!ground->has_place) {
        turn_sky(out, ground, v, turn_deg_s * later_s);
        return true;
    }
    horizon_angles(&azimuth, &altitude, v);
    if (!horizon_to_radec(&ra, &dec, &ground->place, time_add(ground->utc, later_s), azimuth,
                          altitude)) {
        return false;
    }
    vector_from_radec(out, ra, dec);
    return true;
}
