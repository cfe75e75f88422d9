#include "tripod/ground.h"

#include "sky/rates.h"
#include "sky/vector.h"

#include <string.h>

bool ground_make(struct ground *ground, const struct place *place, struct utc utc)
{
    *ground = (struct ground){.has_place = place, .utc = utc};
    horizon_pole(ground->pole, utc);
    if (place) {
        ground->place = *place;
    }
    return !place || horizon_make(&ground->horizon, place, utc);
}

static void turn_sky(double out[3], const struct ground *ground, const double v[3],
                     double angle_deg)
{
    double turned[3] = {v[0], v[1], v[2]};
    vector_turn(turned, ground->pole, angle_deg);
    memcpy(out, turned, sizeof turned);
}

void ground_from_sky(double out[3], const struct ground *ground, const double v[3], double later_s)
{
    if (ground->has_place) {
        horizon_see(out, &ground->horizon, v, later_s);
    } else {
        turn_sky(out, ground, v, -SIDEREAL_DEG_S * later_s);
    }
}

void ground_to_sky(double out[3], const struct ground *ground, const double v[3], double later_s)
{
    if (ground->has_place) {
        horizon_unsee(out, &ground->horizon, v, later_s);
    } else {
        turn_sky(out, ground, v, SIDEREAL_DEG_S * later_s);
    }
}
