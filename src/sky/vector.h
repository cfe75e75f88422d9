/* sky/vector.h: directions on the sky as unit vectors, ICRS axes: x to RA 0, z to Dec +90. */
#ifndef ALIDADE_SKY_VECTOR_H
#define ALIDADE_SKY_VECTOR_H

/* Unit vector of a direction in degrees. Inverse: vector_to_radec. */
void vector_from_radec(double v[3], double ra_deg, double dec_deg);

/* ra_deg in [0, 360), dec_deg in [-90, 90]; v need not have length 1 but not 0. At the poles the
 * right ascension is 0 if x and y vanish. */
void vector_to_radec(double *ra_deg, double *dec_deg, const double v[3]);

/* Angle between two directions, 0..180 degrees, accurate at both ends (atan2 of cross and dot). */
double vector_angle_deg(const double a[3], const double b[3]);
double radec_angle_deg(double ra1_deg, double dec1_deg, double ra2_deg, double dec2_deg);

/* Position angle at a of the great circle to b: degrees east of north, [0, 360). */
double radec_position_angle_deg(double ra1_deg, double dec1_deg, double ra2_deg, double dec2_deg);

/* The direction at this distance and position angle from (ra, dec). */
void radec_offset(double *ra2_deg, double *dec2_deg, double ra_deg, double dec_deg,
                  double position_angle_deg, double distance_deg);

double vector_dot(const double a[3], const double b[3]);
void vector_cross(double out[3], const double a[3], const double b[3]);
void vector_normalise(double v[3]);

/* Turns v about a unit axis, right-handed (Rodrigues' formula). Its inverse: the negative angle. */
void vector_turn(double v[3], const double axis[3], double angle_deg);

/* The same as a matrix, whose rows are multiplied with a vector; out = m v, and with the
 * transposed, which turns back. out may be v. */
void matrix_turn(double m[3][3], const double axis[3], double angle_deg);
void matrix_apply(double out[3], double m[3][3], const double v[3]);
void matrix_apply_back(double out[3], double m[3][3], const double v[3]);
/* out = a b: first b, then a. out must be neither. */
void matrix_after(double out[3][3], double a[3][3], double b[3][3]);

/* The unit eigenvector of the smallest eigenvalue of a symmetric positive form, on the side of near,
 * which must not be square to it: what all that was summed into the form moves least. axis may be
 * near. */
void matrix_least_axis(double axis[3], double form[3][3], const double near[3]);

/* angle in [0, 360). */
double angle_wrap_360(double angle_deg);
/* angle in [-180, 180). */
double angle_wrap_180(double angle_deg);

#endif
