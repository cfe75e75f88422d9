#include "stars/gaussian.h"

#include "base/elementary.h"
#include "base/units.h"

#include <math.h>

/* From pixel to pixel a Gaussian changes by a factor, which changes by a constant one itself. */
static void fill_row(double *value, int reach, double middle, double right, double left,
                     double same)
{
    value[reach] = middle;
    double up = middle, down = middle;
    for (int k = 1; k <= reach; k++) {
        up *= right;
        down *= left;
        right *= same;
        left *= same;
        value[reach + k] = up;
        value[reach - k] = down;
    }
}

void gaussian_fill(struct gaussian_grid *grid, const struct profile *p, double x, double y,
                   int reach_x, int reach_y)
{
    double det = p->xx * p->yy - p->xy * p->xy;
    double a = p->yy / det, b = -p->xy / det, c = p->xx / det;
    int middle_x = (int)lround(x), middle_y = (int)lround(y);
    double dx = middle_x - x, dy = middle_y - y;
    grid->left = middle_x - reach_x;
    grid->upper = middle_y - reach_y;
    grid->columns = 2 * reach_x + 1;
    grid->rows = 2 * reach_y + 1;
    double middle =
        elementary_exp(-(a * dx * dx + 2 * b * dx * dy + c * dy * dy) / 2) / (2 * PI * sqrt(det));
    /* exp of anything is 1 / exp of minus it. */
    double along = a * dx + b * dy, across = c * dy + b * dx;
    double e_along = elementary_exp(-fabs(along)), e_across = elementary_exp(-fabs(across));
    double e_mixed = elementary_exp(-fabs(b));
    e_along = along < 0 ? 1 / e_along : e_along; /* exp(-along) */
    e_across = across < 0 ? 1 / e_across : e_across;
    e_mixed = b < 0 ? 1 / e_mixed : e_mixed;
    double half_a = elementary_exp(-a / 2), half_c = elementary_exp(-c / 2);
    double same_x = half_a * half_a, same_y = half_c * half_c;
    for (int side = -1; side <= 1; side += 2) {
        double value = middle, step = half_c * (side > 0 ? e_across : 1 / e_across);
        double right = half_a * e_along, left = half_a / e_along;
        double turn = side > 0 ? e_mixed : 1 / e_mixed;
        for (int k = 0; k <= reach_y; k++) {
            double *row = grid->value + (reach_y + side * k) * grid->columns;
            fill_row(row, reach_x, value, right, left, same_x);
            value *= step;
            step *= same_y;
            right *= turn;
            left /= turn;
        }
    }
}
