/* Which axis a head turned about, from what the camera saw before and after. */
#include "tripod/head.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* The turn from one view to another, on the axes of the ground. */
static void turn_between(double turn[3][3], const struct view *from, const struct view *to)
{
    for (int row = 0; row < 3; row++) {
        for (int column = 0; column < 3; column++) {
            turn[row][column] = to->right[row] * from->right[column] +
                                to->up[row] * from->up[column] + to->out[row] * from->out[column];
        }
    }
}

static double turn_angle_deg(double turn[3][3])
{
    double sine =
        hypot(hypot(turn[2][1] - turn[1][2], turn[0][2] - turn[2][0]), turn[1][0] - turn[0][1]);
    return atan2(sine, turn[0][0] + turn[1][1] + turn[2][2] - 1) * DEG_PER_RAD;
}

/* Adds (turn - 1)' (turn - 1): how far a turn moves a direction, as a quadratic form. */
static void add_motion(double form[3][3], double turn[3][3])
{
    double moved[3][3];
    for (int row = 0; row < 3; row++) {
        for (int column = 0; column < 3; column++) {
            moved[row][column] = turn[row][column] - (row == column);
        }
    }
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 3; k++) {
            for (int row = 0; row < 3; row++) {
                form[i][k] += moved[row][i] * moved[row][k];
            }
        }
    }
}

static void find_faults(struct head_lesson *lesson, const struct view *view, const double usual[3])
{
    lesson->off_deg = vector_angle_deg(lesson->axis, usual);
    lesson->squint_deg = 90 - vector_angle_deg(lesson->axis, view->out);
}

bool head_learn(struct head_lesson *lesson, enum head_axis which, const struct view *view,
                int views, double noise_deg, double least_deg)
{
    double form[3][3] = {{0}}, chords = 0;
    *lesson = (struct head_lesson){.which = which};
    for (int i = 0; i < views; i++) {
        for (int k = i + 1; k < views; k++) {
            double turn[3][3];
            turn_between(turn, &view[i], &view[k]);
            double angle = turn_angle_deg(turn), chord = 2 * sin(angle / 2 * RAD_PER_DEG);
            add_motion(form, turn);
            chords += chord * chord;
            lesson->angle_deg = fmax(lesson->angle_deg, angle);
        }
    }
    if (!(lesson->angle_deg >= least_deg)) {
        return false;
    }
    struct head_axes level;
    head_axes(&level, &(struct head){0}, &view[0]);
    /* Not the camera's right side: in portrait that is upright. */
    const double *usual = which == HEAD_PAN ? level.pan : level.tilt;
    matrix_least_axis(lesson->axis, form, usual);
    /* As the slope of a line: sum of squared chords over all pairs is n times that about the mean.
     */
    lesson->error_deg = noise_deg * sqrt(views / chords);
    find_faults(lesson, &view[0], usual);
    return true;
}

static void keep_pan(struct head *head, const double pan[3])
{
    double azimuth, altitude;
    horizon_angles(&azimuth, &altitude, pan);
    head->lean_east_deg = (90 - altitude) * sin(azimuth * RAD_PER_DEG);
    head->lean_north_deg = (90 - altitude) * cos(azimuth * RAD_PER_DEG);
}

void head_keep(struct head *head, const struct head_lesson *lesson, bool pan_known)
{
    double pan[3] = {0, 0, 1};
    if (lesson->which == HEAD_PAN) {
        keep_pan(head, lesson->axis);
        return;
    }
    head->squint_deg = lesson->squint_deg;
    if (pan_known) {
        struct head_axes axes;
        const struct view any = {{1, 0, 0}, {0, 0, 1}, {0, 1, 0}};
        head_axes(&axes, head, &any);
        head->skew_deg = 90 - vector_angle_deg(lesson->axis, axes.pan);
        return;
    }
    double along = vector_dot(pan, lesson->axis);
    for (int i = 0; i < 3; i++) {
        pan[i] -= along * lesson->axis[i];
    }
    vector_normalise(pan);
    keep_pan(head, pan);
    head->skew_deg = 0;
}
