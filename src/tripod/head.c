#include "tripod/head.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

static void find_pan(double pan[3], const struct head *head)
{
    double azimuth = atan2(head->lean_east_deg, head->lean_north_deg) * DEG_PER_RAD;
    horizon_vector(pan, azimuth, 90 - hypot(head->lean_east_deg, head->lean_north_deg));
}

/* The direction at given angles from two others, the pan axis and the line of sight, on the right:
 * a sum of these two and of what is square to both. */
static void find_tilt(double tilt[3], const struct head *head, const struct view *view,
                      const double pan[3])
{
    double side[3], between = vector_dot(pan, view->out);
    double to_pan = sin(head->skew_deg * RAD_PER_DEG);
    double to_out = sin(head->squint_deg * RAD_PER_DEG);
    vector_cross(side, view->out, pan);
    double room = vector_dot(side, side); /* squared sine of the angle between the two */
    if (room < 1e-8) {
        memcpy(side, view->right, sizeof side); /* any side is as good; this one is likely */
        to_pan = to_out = 0;
        room = 1;
    }
    double up = (to_pan - to_out * between) / room, ahead = (to_out - to_pan * between) / room;
    double rest = 1 - up * up - ahead * ahead - 2 * up * ahead * between;
    for (int i = 0; i < 3; i++) {
        tilt[i] = up * pan[i] + ahead * view->out[i] + sqrt(fmax(rest, 0) / room) * side[i];
    }
    vector_normalise(tilt);
}

void head_axes(struct head_axes *axes, const struct head *head, const struct view *view)
{
    find_pan(axes->pan, head);
    find_tilt(axes->tilt, head, view, axes->pan);
}

void head_axes_of_camera(struct head_axes *axes, const struct view *view)
{
    memcpy(axes->pan, view->up, sizeof view->up);
    memcpy(axes->tilt, view->right, sizeof view->right);
}

void head_turn(struct head_move *move, const struct head_axes *axes, double pan_deg,
               double tilt_deg)
{
    double pan[3][3], tilt[3][3];
    /* To the right is against the right-handed sense about an axis that points up. */
    matrix_turn(pan, axes->pan, -pan_deg);
    matrix_turn(tilt, axes->tilt, tilt_deg);
    *move = (struct head_move){.pan_deg = pan_deg, .tilt_deg = tilt_deg};
    matrix_after(move->turn, pan, tilt);
}

/* The tilt that brings the line of sight to the target's angle from the pan axis: the component
 * along that axis is lift * cos + swing * sin + rest. Of the two, the nearer. */
static double find_tilt_angle(const struct head_axes *axes, const double out[3],
                              const double target[3])
{
    double swung[3], along = vector_dot(axes->tilt, out);
    vector_cross(swung, axes->tilt, out);
    double rest = along * vector_dot(axes->pan, axes->tilt);
    double lift = vector_dot(axes->pan, out) - rest, swing = vector_dot(axes->pan, swung);
    double want = (vector_dot(axes->pan, target) - rest) / hypot(lift, swing);
    double top = atan2(swing, lift) * DEG_PER_RAD;
    double from_top = acos(fmax(-1, fmin(1, want))) * DEG_PER_RAD;
    double one = angle_wrap_180(top - from_top), other = angle_wrap_180(top + from_top);
    return fabs(one) <= fabs(other) ? one : other;
}

/* What is left of v at right angles to a unit axis; false if next to nothing is. */
static bool square_to(double out[3], const double v[3], const double axis[3])
{
    double along = vector_dot(v, axis);
    for (int i = 0; i < 3; i++) {
        out[i] = v[i] - along * axis[i];
    }
    return vector_dot(out, out) > 1e-18;
}

/* Right-handed angle about an axis from one direction to another; 0 if one lies along it. */
static double angle_about(const double axis[3], const double from[3], const double to[3])
{
    double a[3], b[3], c[3];
    if (!square_to(a, from, axis) || !square_to(b, to, axis)) {
        return 0;
    }
    vector_cross(c, a, b);
    return atan2(vector_dot(c, axis), vector_dot(a, b)) * DEG_PER_RAD;
}

void head_reach(struct head_move *move, const struct head_axes *axes, const struct view *view,
                const double target[3])
{
    double tilt = find_tilt_angle(axes, view->out, target), out[3], miss;
    memcpy(out, view->out, sizeof out);
    vector_turn(out, axes->tilt, tilt);
    head_turn(move, axes, -angle_about(axes->pan, out, target), tilt);
    matrix_apply(out, move->turn, view->out);
    miss = vector_angle_deg(out, target);
    move->short_deg = miss > 1e-6 ? miss : 0;
}
