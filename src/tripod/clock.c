#include "tripod/clock.h"

#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>

static const double most_error_s = 1800, most_fault_s = 7200;

double clock_cost_deg(const struct stand *stand, const struct head *head, const double target[3],
                      double error_s)
{
    struct ground ground;
    struct stand believed;
    struct head_axes axes;
    struct head_move move;
    double aim[3], out[3];
    if (!ground_make(&ground, &stand->ground.place, time_add(stand->ground.utc, error_s))) {
        return 0;
    }
    stand_make(&believed, &stand->wcs, &ground);
    ground_from_sky(aim, &ground, target, 0);
    head_axes(&axes, head, &believed.view);
    head_reach(&move, &axes, &believed.view, aim);

    head_axes(&axes, head, &stand->view);
    head_turn(&move, &axes, move.pan_deg, move.tilt_deg);
    matrix_apply(out, move.turn, stand->view.out);
    ground_from_sky(aim, &stand->ground, target, 0);
    return vector_angle_deg(out, aim);
}

/* How far the camera's right side would point above the horizon if the picture had been taken
 * later_s seconds later. */
static double side_altitude(const struct stand *stand, double later_s)
{
    struct view view;
    const double step_px = 10;
    double x = (stand->wcs.width - 1) / 2.0, y = (stand->wcs.height - 1) / 2.0, above[3];
    wcs_direction(view.out, &stand->wcs, x, y);
    wcs_direction(above, &stand->wcs, x, y - step_px);
    ground_from_sky(view.out, &stand->ground, view.out, later_s);
    ground_from_sky(above, &stand->ground, above, later_s);
    vector_cross(view.right, view.out, above);
    vector_normalise(view.right);
    return asin(view.right[2]) * DEG_PER_RAD;
}

/* A moment between two at which the side is level. */
static double level_between(const struct stand *stand, double from_s, double to_s)
{
    double from = side_altitude(stand, from_s);
    while (fabs(to_s - from_s) > 0.1) {
        double middle_s = (from_s + to_s) / 2, middle = side_altitude(stand, middle_s);
        if ((middle > 0) == (from > 0)) {
            from_s = middle_s;
        } else {
            to_s = middle_s;
        }
    }
    return (from_s + to_s) / 2;
}

bool clock_from_level(struct clock_fault *fault, const struct stand *stand, double level_deg)
{
    const double step_s = 120;
    for (double away = 0; away < most_fault_s; away += step_s) {
        for (int side = -1; side <= 1; side += 2) {
            double from_s = side * away, to_s = side * (away + step_s);
            if ((side_altitude(stand, from_s) > 0) == (side_altitude(stand, to_s) > 0)) {
                continue;
            }
            double when = level_between(stand, from_s, to_s);
            double rate = side_altitude(stand, when + 30) - side_altitude(stand, when - 30);
            *fault = (struct clock_fault){-when, level_deg / (fabs(rate) / 60)};
            return fault->error_s < most_error_s;
        }
    }
    return false;
}

bool clock_from_pan(struct clock_fault *fault, const struct head_lesson *pan,
                    const struct place *place, double level_deg)
{
    double rate = SIDEREAL_DEG_S * cos(place->latitude_deg * RAD_PER_DEG);
    double lean_east = atan2(pan->axis[0], pan->axis[2]) * DEG_PER_RAD;
    *fault = (struct clock_fault){-lean_east / rate, hypot(level_deg, pan->error_deg) / rate};
    return fault->error_s < most_error_s;
}
