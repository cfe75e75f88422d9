/* tests/bench/star_bound.h: how well light itself allows a star to be placed.
 *
 * Cramer-Rao bound of the position of a Gaussian star on a flat background in a grid of pixels
 * (Mendez, Silva & Lobos 2013, PASP 125, 580), with the star drawn out evenly along a line
 * (Bouquillon et al. 2017, A&A 606, A27): the inverse of the Fisher information
 *
 *     I_ij = sum over pixels of (dF/dp_i) (dF/dp_j) / V
 *
 * where F is the expected number of electrons of the star in a pixel and V = F + sky + readout^2
 * its variance, p the position. Symmetric stars do not mix position with brightness, so that not
 * knowing the latter costs nothing. */
#ifndef ALIDADE_TESTS_BENCH_STAR_BOUND_H
#define ALIDADE_TESTS_BENCH_STAR_BOUND_H

#include "base/units.h"

#include <math.h>
#include <stdbool.h>

struct bound_star {
    double x, y;                     /* px */
    double trail_x, trail_y;         /* from beginning to end of the exposure, px */
    double sigma;                    /* of the round profile, px */
    double electrons, sky_e, read_e; /* of the star; of a pixel, one exposure */
    double clip_e;                   /* pixels above know nothing */
    double exposures;                /* averaged */
};

/* The share of the light that falls on a pixel at (dx, dy) from the star, and how it changes as the
 * star moves along x and y. */
static inline double bound_profile(double slope[2], const struct bound_star *s, double dx,
                                   double dy)
{
    double length = hypot(s->trail_x, s->trail_y), sigma = sqrt(s->sigma * s->sigma + 1.0 / 12);
    double c = length > 0 ? s->trail_x / length : 1, d = length > 0 ? s->trail_y / length : 0;
    double u = dx * c + dy * d, w = dy * c - dx * d, along, along_slope;
    double across = exp(-0.5 * w * w / (sigma * sigma)) / (sigma * sqrt(2 * PI));
    if (length < 0.01) {
        along = exp(-0.5 * u * u / (sigma * sigma)) / (sigma * sqrt(2 * PI));
        along_slope = -u / (sigma * sigma) * along;
    } else {
        double a = (u + length / 2) / sigma, b = (u - length / 2) / sigma;
        along = 0.5 * (erf(a / sqrt(2)) - erf(b / sqrt(2))) / length;
        along_slope = (exp(-0.5 * a * a) - exp(-0.5 * b * b)) / (sigma * length * sqrt(2 * PI));
    }
    double by_u = -along_slope * across, by_w = w / (sigma * sigma) * along * across;
    slope[0] = by_u * c - by_w * d;
    slope[1] = by_u * d + by_w * c;
    return along * across;
}

/* Variance in x plus variance in y that no unbiased measurement undercuts, px^2. Infinite if the
 * pixels say nothing. */
static inline double bound_variance(const struct bound_star *s)
{
    double i_xx = 0, i_xy = 0, i_yy = 0, slope[2];
    double reach_x = 4 * s->sigma + fabs(s->trail_x) / 2 + 1;
    double reach_y = 4 * s->sigma + fabs(s->trail_y) / 2 + 1;
    for (double y = ceil(s->y - reach_y); y <= s->y + reach_y; y++) {
        for (double x = ceil(s->x - reach_x); x <= s->x + reach_x; x++) {
            double light = s->electrons * bound_profile(slope, s, x - s->x, y - s->y);
            double variance = light + s->sky_e + s->read_e * s->read_e;
            if (light + s->sky_e < s->clip_e) {
                double weight = s->electrons * s->electrons * s->exposures / variance;
                i_xx += slope[0] * slope[0] * weight;
                i_xy += slope[0] * slope[1] * weight;
                i_yy += slope[1] * slope[1] * weight;
            }
        }
    }
    double determinant = i_xx * i_yy - i_xy * i_xy;
    return determinant > 0 ? (i_xx + i_yy) / determinant : (double)INFINITY;
}

#endif
