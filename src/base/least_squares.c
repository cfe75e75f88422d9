#include "base/least_squares.h"

#include <math.h>
#include <string.h>

void least_squares_start(struct least_squares *ls, int n)
{
    ls->n = n;
    for (int i = 0; i < n; i++) {
        memset(ls->normal[i], 0, (size_t)n * sizeof ls->normal[i][0]);
        ls->right[i] = 0;
    }
}

void least_squares_add(struct least_squares *ls, const double *row, double value, double weight)
{
    for (int i = 0; i < ls->n; i++) {
        double wi = weight * row[i];
        for (int j = 0; j <= i; j++) {
            ls->normal[i][j] += wi * row[j];
        }
        ls->right[i] += wi * value;
    }
}

/* Unknowns differ by many orders of magnitude: scaled to a unit diagonal first. */
static bool decompose(double l[LEAST_SQUARES_MAX][LEAST_SQUARES_MAX], double *scale,
                      const struct least_squares *ls)
{
    for (int i = 0; i < ls->n; i++) {
        if (!(ls->normal[i][i] > 0) || !isfinite(ls->normal[i][i])) {
            return false;
        }
        scale[i] = 1 / sqrt(ls->normal[i][i]);
    }
    for (int i = 0; i < ls->n; i++) {
        for (int j = 0; j <= i; j++) {
            double sum = ls->normal[i][j] * scale[i] * scale[j];
            for (int k = 0; k < j; k++) {
                sum -= l[i][k] * l[j][k];
            }
            if (i > j) {
                l[i][j] = sum / l[j][j];
            } else if (sum > 1e-13) {
                l[i][i] = sqrt(sum);
            } else {
                return false;
            }
        }
    }
    return true;
}

static void substitute(double *x, double l[LEAST_SQUARES_MAX][LEAST_SQUARES_MAX], int n)
{
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < i; k++) {
            x[i] -= l[i][k] * x[k];
        }
        x[i] /= l[i][i];
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++) {
            x[i] -= l[k][i] * x[k];
        }
        x[i] /= l[i][i];
    }
}

bool least_squares_solve(double *x, double *covariance, const struct least_squares *ls)
{
    double l[LEAST_SQUARES_MAX][LEAST_SQUARES_MAX], scale[LEAST_SQUARES_MAX];
    int n = ls->n;
    if (!decompose(l, scale, ls)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        x[i] = ls->right[i] * scale[i];
    }
    substitute(x, l, n);
    for (int i = 0; i < n; i++) {
        x[i] *= scale[i];
    }
    for (int j = 0; covariance && j < n; j++) {
        double column[LEAST_SQUARES_MAX] = {0};
        column[j] = 1;
        substitute(column, l, n);
        for (int i = 0; i < n; i++) {
            covariance[i * n + j] = column[i] * scale[i] * scale[j];
        }
    }
    return true;
}
