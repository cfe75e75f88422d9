#include "match/pose.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Unit vector in camera axes of a pixel, no distortion. */
static void camera_direction(double c[3], const double p[2], double focal_px)
{
    double z = sqrt(p[0] * p[0] + p[1] * p[1] + focal_px * focal_px);
    c[0] = p[0] / z;
    c[1] = p[1] / z;
    c[2] = focal_px / z;
}

static double angle_between(double p[2][2], double focal_px)
{
    double a[3], b[3];
    camera_direction(a, p[0], focal_px);
    camera_direction(b, p[1], focal_px);
    return vector_angle_deg(a, b) * RAD_PER_DEG;
}

/* Places of the two stars from the optical axis, and the axis from the middle, for a focal length.
 */
static void place_axis(double from_axis[2][2], double axis_place[2], double p[2][2],
                       double focal_px, const struct pose_axis *axis)
{
    const double toward[2] = {cos(axis->direction), sin(axis->direction)};
    double away = focal_px * tan(axis->angle);
    for (int i = 0; i < 2; i++) {
        axis_place[i] = axis->angle > 0 ? 0.5 * (p[0][i] + p[1][i]) + away * toward[i] : 0;
        from_axis[0][i] = p[0][i] - axis_place[i];
        from_axis[1][i] = p[1][i] - axis_place[i];
    }
}

/* The focal length at which two pixels are as far apart as the two stars: the angle falls with it,
 * nearly in inverse proportion when the stars are close together. */
static bool find_focal(double *focal_px, double from_axis[2][2], double axis_place[2],
                       double p[2][2], double angle, const struct pose_axis *axis)
{
    double f = hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]) / angle;
    for (int i = 0; i < 20; i++) {
        place_axis(from_axis, axis_place, p, f, axis);
        double ratio = angle_between(from_axis, f) / angle;
        if (!(ratio > 0) || !isfinite(ratio)) {
            return false;
        }
        if (fabs(ratio - 1) < 1e-9) {
            break;
        }
        f *= ratio;
    }
    *focal_px = f;
    place_axis(from_axis, axis_place, p, f, axis);
    return fabs(angle_between(from_axis, f) / angle - 1) < 1e-5;
}

/* Orthonormal frame whose first vector is along a and whose third is normal to a and b. */
static bool frame_of_two(double frame[3][3], const double a[3], const double b[3])
{
    memcpy(frame[0], a, sizeof frame[0]);
    vector_cross(frame[2], a, b);
    if (!(vector_dot(frame[2], frame[2]) > 1e-14)) {
        return false;
    }
    vector_normalise(frame[2]);
    vector_cross(frame[1], frame[2], frame[0]);
    return true;
}

static void set_prior(struct pose *pose, const struct pose_prior *prior)
{
    /* Attitude and focal length are all but unknown: the two stars alone set them. */
    const double wide[POSE_SIZE] = {1, 1, 1, 1, prior->distortion, prior->axis_px, prior->axis_px};
    memset(pose->covariance, 0, sizeof pose->covariance);
    for (int i = 0; i < POSE_SIZE; i++) {
        pose->covariance[i][i] = wide[i] * wide[i];
    }
}

bool pose_from_two(struct pose *pose, double v[2][3], double p[2][2], double half_diagonal,
                   const struct pose_axis *axis, const struct pose_prior *prior)
{
    double angle = vector_angle_deg(v[0], v[1]) * RAD_PER_DEG;
    double c[2][3], sky[3][3], camera[3][3], from_axis[2][2], place[2];
    if (!(angle > 0) || angle > 1.75 ||
        !find_focal(&pose->focal_px, from_axis, place, p, angle, axis)) {
        return false;
    }
    camera_direction(c[0], from_axis[0], pose->focal_px);
    camera_direction(c[1], from_axis[1], pose->focal_px);
    if (!frame_of_two(sky, v[0], v[1]) || !frame_of_two(camera, c[0], c[1])) {
        return false;
    }
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            pose->axis[i][j] = 0;
            for (int k = 0; k < 3; k++) {
                pose->axis[i][j] += camera[k][i] * sky[k][j];
            }
        }
    }
    pose->distortion = 0;
    pose->x = place[0];
    pose->y = place[1];
    pose->half_diagonal = half_diagonal;
    set_prior(pose, prior);
    return true;
}

bool pose_project(double p[2], double jacobian[2][POSE_SIZE], const struct pose *pose,
                  const double v[3])
{
    double z = vector_dot(pose->axis[2], v);
    if (z < 0.2588) {
        return false;
    }
    double X = vector_dot(pose->axis[0], v) / z, Y = vector_dot(pose->axis[1], v) / z;
    double f = pose->focal_px, u = f * X, w = f * Y;
    double scale = 1 / (pose->half_diagonal * pose->half_diagonal);
    double r2 = (u * u + w * w) * scale, k = pose->distortion, grow = 1 + k * r2;
    if (grow + 2 * k * r2 < 0.3) {
        return false;
    }
    p[0] = pose->x + u * grow;
    p[1] = pose->y + w * grow;
    if (!jacobian) {
        return true;
    }
    /* How (u, w) changes with a turn about right, down, out, and with ln f. */
    const double plain[2][4] = {{-f * X * Y, f * (1 + X * X), -w, u},
                                {-f * (1 + Y * Y), f * X * Y, u, w}};
    double bend = 2 * k * scale;
    for (int i = 0; i < 4; i++) {
        double inward = bend * (u * plain[0][i] + w * plain[1][i]);
        jacobian[0][i] = grow * plain[0][i] + u * inward;
        jacobian[1][i] = grow * plain[1][i] + w * inward;
    }
    jacobian[0][4] = u * r2;
    jacobian[1][4] = w * r2;
    jacobian[0][5] = jacobian[1][6] = 1;
    jacobian[0][6] = jacobian[1][5] = 0;
    return true;
}

void pose_direction(double v[3], const struct pose *pose, const double p[2])
{
    double x = p[0] - pose->x, y = p[1] - pose->y, u[2] = {x, y}, c[3];
    double scale = 1 / (pose->half_diagonal * pose->half_diagonal);
    for (int i = 0; i < 20 && pose->distortion != 0; i++) {
        double grow = 1 + pose->distortion * (u[0] * u[0] + u[1] * u[1]) * scale;
        grow = fmax(grow, 0.2);
        u[0] = x / grow;
        u[1] = y / grow;
    }
    camera_direction(c, u, pose->focal_px);
    for (int j = 0; j < 3; j++) {
        v[j] = c[0] * pose->axis[0][j] + c[1] * pose->axis[1][j] + c[2] * pose->axis[2][j];
    }
}

/* gain = covariance * jacobian^T, 7 x 2. */
static void project_covariance(double gain[POSE_SIZE][2], const struct pose *pose,
                               double jacobian[2][POSE_SIZE])
{
    for (int i = 0; i < POSE_SIZE; i++) {
        gain[i][0] = gain[i][1] = 0;
        for (int j = 0; j < POSE_SIZE; j++) {
            gain[i][0] += pose->covariance[i][j] * jacobian[0][j];
            gain[i][1] += pose->covariance[i][j] * jacobian[1][j];
        }
    }
}

static void spread_of_gain(double spread[3], double jacobian[2][POSE_SIZE],
                           double gain[POSE_SIZE][2])
{
    spread[0] = spread[1] = spread[2] = 0;
    for (int i = 0; i < POSE_SIZE; i++) {
        spread[0] += jacobian[0][i] * gain[i][0];
        spread[1] += jacobian[0][i] * gain[i][1];
        spread[2] += jacobian[1][i] * gain[i][1];
    }
}

void pose_spread(double spread[3], const struct pose *pose, double jacobian[2][POSE_SIZE])
{
    double gain[POSE_SIZE][2];
    project_covariance(gain, pose, jacobian);
    spread_of_gain(spread, jacobian, gain);
}

/* Turns the camera axes by a small rotation vector given in camera axes, exactly orthonormal. */
static void turn(double axis[3][3], const double w[3])
{
    double angle = sqrt(vector_dot(w, w));
    if (angle < 1e-15) {
        return;
    }
    double n[3] = {w[0] / angle, w[1] / angle, w[2] / angle}, s = sin(angle), c = cos(angle);
    for (int j = 0; j < 3; j++) {
        double v[3] = {axis[0][j], axis[1][j], axis[2][j]}, nv[3];
        double along = vector_dot(n, v) * (1 - c);
        vector_cross(nv, n, v);
        for (int i = 0; i < 3; i++) {
            axis[i][j] = v[i] * c + nv[i] * s + n[i] * along;
        }
    }
}

void pose_move(struct pose *pose, const double step[POSE_SIZE])
{
    turn(pose->axis, step);
    pose->focal_px *= exp(fmax(-0.5, fmin(0.5, step[3])));
    pose->distortion += step[4];
    pose->x += step[5];
    pose->y += step[6];
}

void pose_update(struct pose *pose, double jacobian[2][POSE_SIZE], const double residual[2],
                 double variance)
{
    double gain[POSE_SIZE][2], s[3], step[POSE_SIZE];
    project_covariance(gain, pose, jacobian);
    spread_of_gain(s, jacobian, gain);
    s[0] += variance;
    s[2] += variance;
    double det = s[0] * s[2] - s[1] * s[1];
    for (int i = 0; i < POSE_SIZE; i++) {
        double k0 = (gain[i][0] * s[2] - gain[i][1] * s[1]) / det;
        double k1 = (gain[i][1] * s[0] - gain[i][0] * s[1]) / det;
        step[i] = k0 * residual[0] + k1 * residual[1];
        for (int j = 0; j < POSE_SIZE; j++) {
            pose->covariance[i][j] -= k0 * gain[j][0] + k1 * gain[j][1];
        }
    }
    pose_move(pose, step);
}

void pose_expect(struct pose *pose, double angle_deg)
{
    double angle = angle_deg * RAD_PER_DEG, axis = 1e-3 * pose->half_diagonal;
    const double error[POSE_SIZE] = {angle, angle, angle, 1e-3, 2e-3, axis, axis};
    memset(pose->covariance, 0, sizeof pose->covariance);
    for (int i = 0; i < POSE_SIZE; i++) {
        pose->covariance[i][i] = error[i] * error[i];
    }
}

void pose_turn_east(struct pose *pose, double angle_deg)
{
    double s = sin(angle_deg * RAD_PER_DEG), c = cos(angle_deg * RAD_PER_DEG);
    for (int i = 0; i < 3; i++) {
        double x = pose->axis[i][0], y = pose->axis[i][1];
        pose->axis[i][0] = c * x - s * y;
        pose->axis[i][1] = s * x + c * y;
    }
}
