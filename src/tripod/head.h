/* tripod/head.h: the head of a tripod: what its two movements do, and which ones lead to a target.
 *
 * Directions are on the axes of a ground with a place (east, north, up) unless it says otherwise. A
 * pan is positive to the right, as seen from behind the camera, a tilt upwards. */
#ifndef ALIDADE_TRIPOD_HEAD_H
#define ALIDADE_TRIPOD_HEAD_H

#include "tripod/stand.h"

#include <stdbool.h>

/* Which axes a head turns about. All zeros: levelled, and the camera mounted square: the pan axis
 * is the vertical, the tilt axis is level and at right angles to the line of sight. */
struct head {
    double lean_east_deg, lean_north_deg; /* where the top of the pan axis leans */
    double skew_deg;   /* right end of the tilt axis above square to the pan axis */
    double squint_deg; /* right end of the tilt axis ahead of square to the line of sight */
};

/* The two axes as they stand now; unit vectors. A pan turns the tilt axis with it. */
struct head_axes {
    double pan[3], tilt[3];
};

/* Of a head, on a ground with a place. */
void head_axes(struct head_axes *axes, const struct head *head, const struct view *view);
/* As if it panned about the camera's upright side and tilted about its right one: what a ball head
 * does, on any ground. */
void head_axes_of_camera(struct head_axes *axes, const struct view *view);

struct head_move {
    double pan_deg, tilt_deg;
    double turn[3][3]; /* what both do to the camera; for stand_pixel */
    double short_deg; /* how far from the target the line of sight ends, if the head cannot reach it
                         (it lies near the pan axis); else 0 */
};

/* The move that brings the line of sight to a direction, over the nearer side. */
void head_reach(struct head_move *move, const struct head_axes *axes, const struct view *view,
                const double target[3]);
/* What given angles do; inverse of head_reach. */
void head_turn(struct head_move *move, const struct head_axes *axes, double pan_deg,
               double tilt_deg);

enum head_axis { HEAD_PAN, HEAD_TILT };

/* What two or more views tell of an axis, if only that movement was made between them. */
struct head_lesson {
    enum head_axis which;
    double axis[3];    /* of the pan: its upper end; of the tilt: its right end */
    double angle_deg;  /* the largest angle between two of the views */
    double error_deg;  /* of the axis, one deviation in each of its two directions */
    double off_deg;    /* from where head_axes has it for a levelled head */
    double squint_deg; /* of a tilt axis */
};

/* The axis about which the views differ. noise_deg: error of each view, one deviation about each
 * of three axes. False if they differ by less than least_deg. */
bool head_learn(struct head_lesson *lesson, enum head_axis which, const struct view *view,
                int views, double noise_deg, double least_deg);

/* Puts what was learned into a head. A tilt axis tells its skew if the pan axis is known already;
 * else it counts as square to the pan axis and tells one side of that one's lean. */
void head_keep(struct head *head, const struct head_lesson *lesson, bool pan_known);

#endif
