/* tripod/sun_guard.h: where the Sun is on the way from where the camera looks to the target. */
#ifndef ALIDADE_TRIPOD_SUN_GUARD_H
#define ALIDADE_TRIPOD_SUN_GUARD_H

#include "tripod/head.h"

#include <stdbool.h>

/* How near to the lens's way the Sun must be to be warned of, degrees (common practice, no
 * source). */
#define SUN_GUARD_NEAR 30.0

/* While the Sun is lower than this, no stars fade; frames with stars are not taken with it higher
 * (common practice: the end of civil twilight). */
#define SUN_GUARD_DAY (-6.0)

struct sun_guard {
    double altitude_deg; /* of the Sun */
    double target_deg;   /* from the target to the Sun */
    double way_deg; /* least distance of the line of sight to it while the head pans, then tilts */
};

/* For a stand with a place. target: ICRS. False if ERFA refuses the time. */
bool sun_guard_measure(struct sun_guard *guard, const struct stand *stand,
                       const struct head_axes *axes, const struct head_move *move,
                       const double target[3]);

/* Whether somebody means the Sun by this name: "Sun", "the sun", "Sol". */
bool sun_guard_is_sun(const char *name);

#endif
