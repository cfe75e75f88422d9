#include "sky/wcs_inverse.h"

#include "base/least_squares.h"
#include "base/units.h"

#include <math.h>
#include <stddef.h>

enum { GRID = 16, MAX_TERMS = (WCS_INVERSE_MAX_ORDER + 1) * (WCS_INVERSE_MAX_ORDER + 2) / 2 };

/* One place in the picture: before (u, v) and after (ideal_u, ideal_v) the distortion. */
struct sample {
    double u, v, ideal_u, ideal_v;
};

static double distorted(const double a[WCS_MAX_ORDER + 1][WCS_MAX_ORDER + 1], int order, double u,
                        double v)
{
    double sum = 0;
    for (int p = 0; p <= order; p++) {
        for (int q = p < 2 ? 2 - p : 0; p + q <= order; q++) {
            sum += a[p][q] * pow(u, p) * pow(v, q);
        }
    }
    return sum;
}

/* Chebyshev's nodes stand close at the edges, where a polynomial strays first; the outermost ones
 * are stretched onto the edges. */
static double node(int i, int size)
{
    double place = -cos(PI * (i + 0.5) / GRID) / cos(PI * 0.5 / GRID);
    return -0.5 + size * (1 + place) / 2;
}

static void take_samples(struct sample sample[GRID * GRID], const struct wcs *wcs)
{
    for (int i = 0; i < GRID * GRID; i++) {
        struct sample *s = &sample[i];
        s->u = node(i % GRID, wcs->width) - wcs->x;
        s->v = node(i / GRID, wcs->height) - wcs->y;
        s->ideal_u = s->u + distorted(wcs->a, wcs->order, s->u, s->v);
        s->ideal_v = s->v + distorted(wcs->b, wcs->order, s->u, s->v);
    }
}

/* Monomials of (x, y) up to the order; returns how many. */
static int monomials(double term[MAX_TERMS], double x, double y, int order)
{
    int count = 0;
    double xp = 1;
    for (int p = 0; p <= order; p++, xp *= x) {
        double value = xp;
        for (int q = 0; p + q <= order; q++, value *= y) {
            term[count++] = value;
        }
    }
    return count;
}

/* Least squares of both corrections; x, y are scaled to the unit square. */
static bool fit(double solved[2][MAX_TERMS], const struct sample sample[GRID * GRID], double scale,
                int order)
{
    struct least_squares ls[2] = {{.n = (order + 1) * (order + 2) / 2}};
    ls[1].n = ls[0].n;
    for (int s = 0; s < GRID * GRID; s++) {
        double term[MAX_TERMS];
        monomials(term, sample[s].ideal_u / scale, sample[s].ideal_v / scale, order);
        least_squares_add(&ls[0], term, sample[s].u - sample[s].ideal_u, 1);
        least_squares_add(&ls[1], term, sample[s].v - sample[s].ideal_v, 1);
    }
    return least_squares_solve(solved[0], NULL, &ls[0]) &&
           least_squares_solve(solved[1], NULL, &ls[1]);
}

static void unscale(struct wcs_inverse *inverse, double right[2][MAX_TERMS], double scale,
                    int order)
{
    int i = 0;
    *inverse = (struct wcs_inverse){.order = order};
    for (int p = 0; p <= order; p++) {
        for (int q = 0; p + q <= order; q++, i++) {
            inverse->ap[p][q] = right[0][i] / pow(scale, p + q);
            inverse->bp[p][q] = right[1][i] / pow(scale, p + q);
        }
    }
}

static double worst_error(const struct wcs_inverse *inverse,
                          const struct sample sample[GRID * GRID])
{
    double worst = 0;
    for (int s = 0; s < GRID * GRID; s++) {
        double u = sample[s].ideal_u, v = sample[s].ideal_v, term[MAX_TERMS];
        monomials(term, sample[s].ideal_u, sample[s].ideal_v, inverse->order);
        int i = 0;
        for (int p = 0; p <= inverse->order; p++) {
            for (int q = 0; p + q <= inverse->order; q++, i++) {
                u += inverse->ap[p][q] * term[i];
                v += inverse->bp[p][q] * term[i];
            }
        }
        worst = fmax(worst, hypot(u - sample[s].u, v - sample[s].v));
    }
    return worst;
}

bool wcs_inverse_fit(struct wcs_inverse *inverse, const struct wcs *wcs)
{
    struct sample sample[GRID * GRID];
    double scale = 1, best = 1;
    take_samples(sample, wcs);
    for (int s = 0; s < GRID * GRID; s++) {
        scale = fmax(scale, fmax(fabs(sample[s].ideal_u), fabs(sample[s].ideal_v)));
    }
    for (int order = wcs->order + 1; order <= WCS_INVERSE_MAX_ORDER && best > 0.002; order++) {
        double right[2][MAX_TERMS];
        struct wcs_inverse tried;
        if (!fit(right, sample, scale, order)) {
            break;
        }
        unscale(&tried, right, scale, order);
        tried.worst_px = worst_error(&tried, sample);
        if (tried.worst_px < best) {
            best = tried.worst_px;
            *inverse = tried;
        }
    }
    return best < 1;
}
