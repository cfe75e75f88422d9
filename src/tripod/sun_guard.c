#include "tripod/sun_guard.h"

#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <math.h>

static const double near_deg = 30, night_deg = -18, day_deg = -6;

/* Either movement may be made first. */
static double nearest_on_way(const struct view *view, const struct head_axes *axes,
                             const struct head_move *move, const double sun[3])
{
    enum { STEPS = 90 };
    double nearest = 180;
    for (int way = 0; way < 2; way++) {
        for (int i = 0; i <= 2 * STEPS; i++) {
            double first = fmin(1, (double)i / STEPS), second = fmax(0, (double)i / STEPS - 1);
            struct head_move part;
            double out[3];
            head_turn(&part, axes, (way ? second : first) * move->pan_deg,
                      (way ? first : second) * move->tilt_deg);
            matrix_apply(out, part.turn, view->out);
            nearest = fmin(nearest, vector_angle_deg(out, sun));
        }
    }
    return nearest;
}

bool sun_guard_measure(struct sun_guard *guard, const struct stand *stand,
                       const struct head_axes *axes, const struct head_move *move,
                       const double target[3])
{
    struct sun_moon_position sun;
    double v[3], seen[3];
    if (!sun_moon_from_place(&sun, THE_SUN, &stand->ground.place, stand->ground.utc)) {
        return false;
    }
    horizon_vector(v, sun.azimuth_deg, sun.altitude_deg);
    ground_from_sky(seen, &stand->ground, target, 0);
    guard->altitude_deg = sun.altitude_deg;
    guard->target_deg = vector_angle_deg(seen, v);
    guard->way_deg = nearest_on_way(&stand->view, axes, move, v);
    return true;
}

bool sun_guard_warns(const struct sun_guard *guard)
{
    return guard->altitude_deg > night_deg && guard->way_deg < near_deg;
}

bool sun_guard_is_day(double altitude_deg)
{
    return altitude_deg > day_deg;
}
