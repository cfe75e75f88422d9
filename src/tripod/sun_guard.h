/* tripod/sun_guard.h: where the Sun is on the way from where the camera looks to the target. */
#ifndef ALIDADE_TRIPOD_SUN_GUARD_H
#define ALIDADE_TRIPOD_SUN_GUARD_H

#include "tripod/head.h"

#include <stdbool.h>

struct sun_guard {
    double altitude_deg; /* of the Sun */
    double target_deg;   /* from the target to the Sun */
    double way_deg; /* least distance of the line of sight to it while the head pans, then tilts */
};

/* For a stand with a place. target: ICRS. False if ERFA refuses the time. */
bool sun_guard_measure(struct sun_guard *guard, const struct stand *stand,
                       const struct head_axes *axes, const struct head_move *move,
                       const double target[3]);

/* Whether a warning is due: the Sun is less than 30 degrees from the lens's way (common practice,
 * no source), and not so low, 18 degrees, that there is not even twilight. */
bool sun_guard_warns(const struct sun_guard *guard);

/* Whether frames with stars are no longer taken with the Sun at that altitude: above -6 degrees
 * (common practice: the end of civil twilight). */
bool sun_guard_is_day(double altitude_deg);

#endif
