/* base/elementary_lanes.h: the exponential and error function of base/elementary.h, to be inlined
 * into loops over many values, which the compiler then works out side by side. Without branches. */
#ifndef ALIDADE_BASE_ELEMENTARY_LANES_H
#define ALIDADE_BASE_ELEMENTARY_LANES_H

#include "base/wider.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* value times 2^n, where that is neither too large nor too small for all its digits. */
static PLAIN double elementary_times_power(double value, int n)
{
    enum { DIGITS = 52, BIAS = 1023 };
    uint64_t bits = (uint64_t)(n + BIAS) << DIGITS;
    double power;
    memcpy(&power, &bits, sizeof power);
    return value * power;
}

/* As elementary_exp, to the bit, for -1e9 < x < 700; below -708 it is next to nothing. */
static PLAIN double elementary_exp_lane(double x)
{
    /* 2^n exp(rest): ln 2 in two parts, the first with zeros at its end, so that n times it is
     * exact. */
    const double high = 0x1.62e42fee00000p-1, low = 0x1.a39ef35793c76p-33;
    const int least = -1021;
    double steps = x / (high + low) + 0.5, n = (int)steps;
    n -= steps < n ? 1 : 0;
    double rest = (x - n * high) - n * low, sum = 1.0 / 6227020800;
    sum = 1.0 / 479001600 + sum * rest;
    sum = 1.0 / 39916800 + sum * rest;
    sum = 1.0 / 3628800 + sum * rest;
    sum = 1.0 / 362880 + sum * rest;
    sum = 1.0 / 40320 + sum * rest;
    sum = 1.0 / 5040 + sum * rest;
    sum = 1.0 / 720 + sum * rest;
    sum = 1.0 / 120 + sum * rest;
    sum = 1.0 / 24 + sum * rest;
    sum = 1.0 / 6 + sum * rest;
    sum = 1.0 / 2 + sum * rest;
    sum = 1.0 + sum * rest;
    sum = 1.0 + sum * rest;
    int power = (int)n;
    return elementary_times_power(sum, power > least ? power : least);
}

/* erf in steps of an eighth, and its derivative there. */
enum { ERF_NODES = 49 };
extern const double elementary_erf_node[ERF_NODES], elementary_erf_slope[ERF_NODES];

/* So many values are worked out in a go, at most. */
enum { LANES_MOST = 64 };

/* out[i] = elementary_erf(x[i]) of n values, to the bit, for |x| < 1e8. Taylor's series between the
 * nodes, whose terms are Hermite's polynomials (Abramowitz & Stegun 1964, 7.1.19). The nodes are
 * fetched one by one: few processors gather them faster. */
static PLAIN void elementary_erf_lanes(double *restrict out, const double *restrict x, int n)
{
    int near[LANES_MOST];
    double node[LANES_MOST], slope[LANES_MOST];
    for (int k = 0; k < n; k++) {
        near[k] = (int)(fabs(x[k]) * 8 + 0.5);
    }
    for (int k = 0; k < n; k++) {
        int i = near[k] < ERF_NODES - 1 ? near[k] : ERF_NODES - 1;
        node[k] = elementary_erf_node[i];
        slope[k] = elementary_erf_slope[i];
    }
    for (int k = 0; k < n; k++) {
        double inside = near[k] < ERF_NODES, at = near[k] / 8.0, d = (fabs(x[k]) - at) * inside;
        double power = d, before = 0, hermite = 1, sum = 0, next;
#define ERF_TERM(n)                                                                                \
    sum += hermite * power;                                                                        \
    next = 2 * at * hermite - 2 * (n)*before;                                                      \
    before = hermite;                                                                              \
    hermite = next;                                                                                \
    power *= -d / ((n) + 2);
        ERF_TERM(0)
        ERF_TERM(1)
        ERF_TERM(2)
        ERF_TERM(3)
        ERF_TERM(4)
        ERF_TERM(5)
        ERF_TERM(6)
        ERF_TERM(7)
#undef ERF_TERM
        sum += hermite * power;
        out[k] = copysign(node[k] + slope[k] * sum, x[k]);
    }
}

#endif
