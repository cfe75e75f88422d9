/* match/quad.h: the shape of four stars, the same for any position, rotation and scale. */
#ifndef ALIDADE_MATCH_QUAD_H
#define ALIDADE_MATCH_QUAD_H

#include <stdbool.h>

/* The two stars farthest apart, A and B, are put at 0 and 1 of the complex plane; the shape is
 * where C and D then lie: (Re C, Im C, Re D, Im D). Of the two ways to name A and B the one with Re
 * C + Re D <= 1 is taken, and C is the one with the smaller real part. All four numbers are
 * bounded: 0 <= Re <= 1, |Im| <= sqrt(3)/2.
 *
 * point: four positions in a plane, any unit (read only; C11 cannot say const for a double[4][2]
 * argument). order: which of them became A, B, C, D. diameter: the distance A-B in that unit.
 * Returns false, with nothing filled in, if two points coincide so that no shape exists. Mirroring
 * the plane (y -> -y) only changes the sign of both Im. */
bool quad_shape(double shape[4], int order[4], double *diameter, double point[4][2]);

/* The shape seen in a mirror, renamed so that the rules above hold again; order is permuted
 * alike. Its own inverse up to ties. */
void quad_mirror(double shape[4], int order[4]);

/* Projects four directions (unit vectors) onto the plane that touches the sphere at the direction
 * of their sum, gnomonic, radians near the middle. The plane's axes are turned arbitrarily (shapes
 * do not care) but have the hand of east and north, which is that of x right and y down in a
 * picture that is not mirrored. False if one is 80 degrees or more from the middle. */
bool quad_sky_plane(double point[4][2], double direction[4][3]);

/* The shape of four directions as quad_shape has it of what quad_sky_plane makes of them, in one go
 * and without axes: the order of two pairs that are equally far apart but for rounding may differ.
 * diameter: radians. False as there. */
bool quad_sky_shape(double shape[4], int order[4], double *diameter, double direction[4][3]);

#endif
