#include "sky/vector.h"

#include "base/units.h"

#include <math.h>
#include <string.h>

void vector_from_radec(double v[3], double ra_deg, double dec_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    double across = cos(dec);
    v[0] = across * cos(ra);
    v[1] = across * sin(ra);
    v[2] = sin(dec);
}

void vector_to_radec(double *ra_deg, double *dec_deg, const double v[3])
{
    double across = hypot(v[0], v[1]);
    *ra_deg = across > 0 ? angle_wrap_360(atan2(v[1], v[0]) * DEG_PER_RAD) : 0.0;
    *dec_deg = atan2(v[2], across) * DEG_PER_RAD;
}

double vector_angle_deg(const double a[3], const double b[3])
{
    double c[3];
    vector_cross(c, a, b);
    return atan2(sqrt(vector_dot(c, c)), vector_dot(a, b)) * DEG_PER_RAD;
}

double radec_angle_deg(double ra1_deg, double dec1_deg, double ra2_deg, double dec2_deg)
{
    double a[3], b[3];
    vector_from_radec(a, ra1_deg, dec1_deg);
    vector_from_radec(b, ra2_deg, dec2_deg);
    return vector_angle_deg(a, b);
}

double radec_position_angle_deg(double ra1_deg, double dec1_deg, double ra2_deg, double dec2_deg)
{
    double dec1 = dec1_deg * RAD_PER_DEG, dec2 = dec2_deg * RAD_PER_DEG;
    double turn = (ra2_deg - ra1_deg) * RAD_PER_DEG;
    /* cos(dec1) sin(dec2) - sin(dec1) cos(dec2) cos(turn), written so that nearby directions do
     * not cancel. */
    double half = sin(turn / 2);
    double north = sin(dec2 - dec1) + 2 * sin(dec1) * cos(dec2) * half * half;
    double east = cos(dec2) * sin(turn);
    return angle_wrap_360(atan2(east, north) * DEG_PER_RAD);
}

void radec_offset(double *ra2_deg, double *dec2_deg, double ra_deg, double dec_deg,
                  double position_angle_deg, double distance_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    double angle = position_angle_deg * RAD_PER_DEG, distance = distance_deg * RAD_PER_DEG;
    double along = cos(distance), north = sin(distance) * cos(angle);
    double east = sin(distance) * sin(angle);
    double outward = along * cos(dec) - north * sin(dec);
    double v[3] = {
        outward * cos(ra) - east * sin(ra),
        outward * sin(ra) + east * cos(ra),
        along * sin(dec) + north * cos(dec),
    };
    vector_to_radec(ra2_deg, dec2_deg, v);
}

double vector_dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

void vector_cross(double out[3], const double a[3], const double b[3])
{
    double x = a[1] * b[2] - a[2] * b[1];
    double y = a[2] * b[0] - a[0] * b[2];
    double z = a[0] * b[1] - a[1] * b[0];
    out[0] = x;
    out[1] = y;
    out[2] = z;
}

void vector_normalise(double v[3])
{
    double length = sqrt(vector_dot(v, v));
    for (int i = 0; i < 3; i++) {
        v[i] /= length;
    }
}

void vector_turn(double v[3], const double axis[3], double angle_deg)
{
    double c = cos(angle_deg * RAD_PER_DEG), s = sin(angle_deg * RAD_PER_DEG), across[3];
    double along = vector_dot(axis, v);
    vector_cross(across, axis, v);
    for (int i = 0; i < 3; i++) {
        v[i] = v[i] * c + across[i] * s + axis[i] * along * (1 - c);
    }
}

void matrix_turn(double m[3][3], const double axis[3], double angle_deg)
{
    for (int column = 0; column < 3; column++) {
        double v[3] = {column == 0, column == 1, column == 2};
        vector_turn(v, axis, angle_deg);
        for (int row = 0; row < 3; row++) {
            m[row][column] = v[row];
        }
    }
}

void matrix_apply(double out[3], double m[3][3], const double v[3])
{
    double x = vector_dot(m[0], v), y = vector_dot(m[1], v), z = vector_dot(m[2], v);
    out[0] = x;
    out[1] = y;
    out[2] = z;
}

void matrix_apply_back(double out[3], double m[3][3], const double v[3])
{
    double sum[3] = {0};
    for (int row = 0; row < 3; row++) {
        for (int column = 0; column < 3; column++) {
            sum[column] += m[row][column] * v[row];
        }
    }
    for (int i = 0; i < 3; i++) {
        out[i] = sum[i];
    }
}

void matrix_after(double out[3][3], double a[3][3], double b[3][3])
{
    for (int row = 0; row < 3; row++) {
        matrix_apply_back(out[row], b, a[row]);
    }
}

/* Power iteration with the adjugate, in which that eigenvalue stands out. */
void matrix_least_axis(double axis[3], double form[3][3], const double near[3])
{
    double adjugate[3][3], side[3] = {near[0], near[1], near[2]};
    vector_cross(adjugate[0], form[1], form[2]);
    vector_cross(adjugate[1], form[2], form[0]);
    vector_cross(adjugate[2], form[0], form[1]);
    memcpy(axis, side, sizeof side);
    for (int i = 0; i < 20; i++) {
        matrix_apply(axis, adjugate, axis);
        vector_normalise(axis);
    }
    if (vector_dot(axis, side) < 0) {
        for (int i = 0; i < 3; i++) {
            axis[i] = -axis[i];
        }
    }
}

double angle_wrap_360(double angle_deg)
{
    double angle = fmod(angle_deg, 360.0);
    if (angle < 0) {
        angle += 360.0;
    }
    /* A tiny negative angle rounds up to 360 itself; the sum also turns -0 into 0. */
    return angle >= 360.0 ? 0.0 : angle + 0.0;
}

double angle_wrap_180(double angle_deg)
{
    double angle = angle_wrap_360(angle_deg);
    return angle >= 180.0 ? angle - 360.0 : angle;
}
