/* base/least_squares.h: small weighted linear least squares by normal equations. */
#ifndef ALIDADE_BASE_LEAST_SQUARES_H
#define ALIDADE_BASE_LEAST_SQUARES_H

#include <stdbool.h>

/* Room for the terms of a polynomial of order 9 in two variables. */
enum { LEAST_SQUARES_MAX = 55 };

/* Starts as all zeros with n set: the number of unknowns, 1..LEAST_SQUARES_MAX. */
struct least_squares {
    int n;
    double normal[LEAST_SQUARES_MAX][LEAST_SQUARES_MAX]; /* lower triangle and diagonal */
    double right[LEAST_SQUARES_MAX];
};

/* Makes it empty again, for n unknowns. */
void least_squares_start(struct least_squares *ls, int n);

/* Adds the equation sum row[i] x[i] = value, weight >= 0 (one over its variance); the same with the
 * negative weight takes it away again. */
void least_squares_add(struct least_squares *ls, const double *row, double value, double weight);

/* Solves for x (n numbers) by Cholesky decomposition of the scaled normal matrix; the equations
 * stay as they are. covariance (may be NULL) receives the inverse of the normal matrix, n rows of
 * n. False if the equations do not determine x. */
bool least_squares_solve(double *x, double *covariance, const struct least_squares *ls);

#endif
