/* match/pose.h: where a camera points, with how well that is known.
 *
 * Seven numbers: attitude (3), logarithm of the focal length in px, radial distortion, place of the
 * optical axis (2), with their covariance. A star seen where it was predicted sharpens it (Kalman
 * filter, linearised). Pixels here count from the middle of the picture, as in match/detections.h.
 */
#ifndef ALIDADE_MATCH_POSE_H
#define ALIDADE_MATCH_POSE_H

#include <stdbool.h>

enum { POSE_SIZE = 7 };

struct pose {
    double axis[3][3]; /* unit vectors, ICRS, of camera right, down and out */
    double focal_px;
    double distortion; /* share by which the radius grows at half_diagonal px from the axis */
    double x, y;       /* px of the optical axis from the middle of the picture */
    double half_diagonal;
    double covariance[POSE_SIZE][POSE_SIZE]; /* of (turn about right, down, out; ln focal;
                                                distortion; x; y) */
};

/* What is believed of any camera before a star is seen. */
struct pose_prior {
    double distortion; /* standard deviation of the corner distortion, share */
    double axis_px;    /* standard deviation of the optical axis from the middle, px */
};

/* Where the optical axis is supposed to be when a pose is started: in the middle of the picture
 * (angle 0), or off the two stars by an angle, in a direction from the midpoint of the two (radians
 * from +x towards +y), as in a piece cut from the edge of a wide picture. */
struct pose_axis {
    double angle, direction; /* radians */
};

/* A pose through two stars at directions v (unit, ICRS) seen at p (px). No distortion. False if the
 * two coincide, are more than 100 degrees apart, or no focal length fits. */
bool pose_from_two(struct pose *pose, double v[2][3], double p[2][2], double half_diagonal,
                   const struct pose_axis *axis, const struct pose_prior *prior);

/* Predicted place of a direction; jacobian (may be NULL) by the seven numbers. False if the
 * direction is 75 degrees or more from the axis or the distortion folds over there. */
bool pose_project(double p[2], double jacobian[2][POSE_SIZE], const struct pose *pose,
                  const double v[3]);

/* Direction of a pixel (fixed point iteration on the distortion). Inverse: pose_project. */
void pose_direction(double v[3], const struct pose *pose, const double p[2]);

/* Covariance of a predicted place, px^2: (xx, xy, yy), without the error of the detection itself.
 */
void pose_spread(double spread[3], const struct pose *pose, double jacobian[2][POSE_SIZE]);

/* Takes in a star seen at predicted + residual px with error variance (px^2). */
void pose_update(struct pose *pose, double jacobian[2][POSE_SIZE], const double residual[2],
                 double variance);

/* Adds a step to the seven numbers; the axes stay orthonormal. */
void pose_move(struct pose *pose, const double step[POSE_SIZE]);

/* A pose that is believed beforehand: its covariance is made from an error of angle_deg degrees in
 * each of the turns, of a thousandth in the focal length, and of what one frame's fit leaves open.
 */
void pose_expect(struct pose *pose, double angle_deg);

/* Turns the camera with the Earth: by angle_deg degrees towards the east about the ICRS pole. What
 * precession has moved the true pole by matters little for the turns of a night. */
void pose_turn_east(struct pose *pose, double angle_deg);

#endif
