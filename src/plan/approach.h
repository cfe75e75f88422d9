/* plan/approach.h: from a star that the eye can see to a target that it cannot. */
#ifndef ALIDADE_PLAN_APPROACH_H
#define ALIDADE_PLAN_APPROACH_H

#include "objects/objects.h"
#include "sky/horizon.h"
#include "sky/skyline.h"

#include <stdbool.h>

enum { APPROACH_STOPS = 4 };

/* Azimuth from north through east and altitude, degrees, as seen through the air; pan right and
 * tilt up are positive, of a head that is level on its pan axis. */
struct approach_stop {
    const struct object *star; /* borrowed; NULL: the target */
    double azimuth_deg, altitude_deg;
    double pan_deg, tilt_deg; /* from the stop before; 0 at the first */
};

struct approach {
    bool found;                                /* a star to start from */
    struct approach_stop stop[APPROACH_STOPS]; /* the start, at most two on the way, the target; if
                                                  that is the start itself, only this */
    int stops;
    double distance_deg; /* from the start to the target, along the sky */
    double sun_altitude_deg;
    double sun_nearest_deg; /* of the sweep to the Sun while that is above the horizon; else 180 */
    bool sun_too_near;      /* no way keeps APPROACH_SUN_DEG away: found is false */
};

/* Nearer than this to the Sun no sweep leads (common practice, no source). */
#define APPROACH_SUN_DEG 30.0

/* The nearest start among the named stars that are bright enough for a suburban eye (2.5) and at
 * least 12 degrees high, and not near the zenith unless the target is; when it is more than 15
 * degrees away, with up to two stars in between, not fainter than 3.5, so that no move is long. A
 * sweep is taken to go straight in azimuth and altitude. The target is a point in ICRS. Of a place
 * without air the usual one is taken: standard pressure, 10 °C. No star is behind the skyline,
 * which may be NULL. False if the time is one that ERFA refuses. */
bool approach_find(struct approach *approach, const struct objects *objects,
                   const struct place *place, const struct skyline *skyline, struct utc utc,
                   double ra_deg, double dec_deg);

/* The place with air: a hop is made between places that are seen, which it has lifted. */
struct place approach_place(const struct place *place);

#endif
