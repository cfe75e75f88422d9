#include "base/elementary.h"

#include "base/units.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* value times 2^n, where that is neither too large nor too small for all its digits. */
static double times_power_of_two(double value, int n)
{
    enum { DIGITS = 52, BIAS = 1023 };
    uint64_t bits = (uint64_t)(n + BIAS) << DIGITS;
    double power;
    memcpy(&power, &bits, sizeof power);
    return value * power;
}

double elementary_exp(double x)
{
    enum { TERMS = 14 };
    static const double per_factorial[TERMS] = {1.0,
                                                1.0,
                                                1.0 / 2,
                                                1.0 / 6,
                                                1.0 / 24,
                                                1.0 / 120,
                                                1.0 / 720,
                                                1.0 / 5040,
                                                1.0 / 40320,
                                                1.0 / 362880,
                                                1.0 / 3628800,
                                                1.0 / 39916800,
                                                1.0 / 479001600,
                                                1.0 / 6227020800};
    /* 2^n exp(rest): ln 2 in two parts, the first with zeros at its end, so that n times it is
     * exact. */
    const double high = 0x1.62e42fee00000p-1, low = 0x1.a39ef35793c76p-33;
    if (!(x > -700 && x < 700)) {
        return x > 0 ? (double)INFINITY : 0;
    }
    double steps = x / (high + low) + 0.5, n = (int)steps;
    n -= steps < n;
    double rest = (x - n * high) - n * low, sum = per_factorial[TERMS - 1];
    for (int k = TERMS - 2; k >= 0; k--) {
        sum = per_factorial[k] + sum * rest;
    }
    return times_power_of_two(sum, (int)n);
}

double elementary_log(double x)
{
    /* 2^n part, part within a root of two of 1: the series of twice the area tangent. */
    const double ln_2 = 0x1.62e42fefa39efp-1, root_half = 0x1.6a09e667f3bcdp-1;
    int n;
    double part = frexp(x, &n);
    if (part < root_half) {
        part *= 2;
        n--;
    }
    double t = (part - 1) / (part + 1), square = t * t, sum = 0;
    for (int k = 21; k > 0; k -= 2) {
        sum = sum * square + 1.0 / k;
    }
    return n * ln_2 + 2 * t * sum;
}

/* erf and its derivative in steps of an eighth; Taylor's series between them, whose terms are
 * Hermite's polynomials (Abramowitz & Stegun 1964, 7.1.19). */
static const double erf_node[][2] = {{0, 1.1283791670955126},
                                     {0.1403162048013338, 1.1108852695966625},
                                     {0.2763263901682369, 1.0600141293761143},
                                     {0.40411690943482231, 0.98035280954590787},
                                     {0.52049987781304652, 0.87878257893544476},
                                     {0.623240882188418, 0.76349953576060492},
                                     {0.71115563365351508, 0.64293106919520737},
                                     {0.78407506105985969, 0.5247450452901482},
                                     {0.84270079294971489, 0.41510749742059472},
                                     {0.88838823170170778, 0.31827395850076928},
                                     {0.92290012825645817, 0.23652112244729076},
                                     {0.94817007278209031, 0.17035977368751559},
                                     {0.96610514647531076, 0.11893028922362936},
                                     {0.97844373323998368, 0.080472259022511164},
                                     {0.98667167121918242, 0.052774995930150372},
                                     {0.99199005767011994, 0.033545828424216072},
                                     {0.99532226501895271, 0.020666985354092053},
                                     {0.99734597064051767, 0.012340820614333694},
                                     {0.99853728341331882, 0.0071423190220179832},
                                     {0.9992170617821089, 0.0040064778616702192},
                                     {0.99959304798255499, 0.0021782842303527099},
                                     {0.99979462426385879, 0.001147875125882675},
                                     {0.99989937807788032, 0.00058627724709379232},
                                     {0.99995214516025621, 0.00029022828286249803},
                                     {0.99997790950300136, 0.00013925305194674786},
                                     {0.99999010326537474, 6.4758683234712979e-05},
                                     {0.99999569722053627, 2.9189025383581699e-05},
                                     {0.9999981847185726, 1.2751740799765088e-05},
                                     {0.99999925690162761, 5.399426777384782e-06},
                                     {0.99999970485980749, 2.2159202846331124e-06},
                                     {0.99999988627274339, 8.8143219123180394e-07},
                                     {0.99999995748605597, 3.3982238178091534e-07},
                                     {0.99999998458274209, 1.2698234671866558e-07},
                                     {0.99999999457659916, 4.5989958288460521e-08},
                                     {0.99999999814942586, 1.6143993719507412e-08},
                                     {0.99999999938751671, 5.4927172288534643e-09},
                                     {0.99999999980338394, 1.81130589590869e-09},
                                     {0.99999999993878386, 5.789281366587474e-10},
                                     {0.9999999999815149, 1.7934357034341339e-10},
                                     {0.99999999999458655, 5.384870492099458e-11},
                                     {0.99999999999846256, 1.5670866531017336e-11},
                                     {0.99999999999957656, 4.4201708693385726e-12},
                                     {0.99999999999988687, 1.2084074716006755e-12},
                                     {0.99999999999997069, 3.2019610382476225e-13},
                                     {0.99999999999999267, 8.2233160452629221e-14},
                                     {0.99999999999999822, 2.0469452084237929e-14},
                                     {0.99999999999999956, 4.9384851409642188e-15},
                                     {0.99999999999999989, 1.1548074643502529e-15},
                                     {1, 2.617301239249265e-16}};

double elementary_erf(double x)
{
    enum { NODES = sizeof erf_node / sizeof *erf_node, TERMS = 9 };
    double size = fabs(x);
    int i = (int)(size * 8 + 0.5);
    if (!(size * 8 < NODES - 1)) {
        return x < 0 ? -1 : 1;
    }
    double at = i / 8.0, d = size - at, power = d, before = 0, hermite = 1, sum = 0;
    for (int n = 0; n < TERMS; n++) {
        sum += hermite * power;
        double next = 2 * at * hermite - 2 * n * before;
        before = hermite;
        hermite = next;
        power *= -d / (n + 2);
    }
    double value = erf_node[i][0] + erf_node[i][1] * sum;
    return x < 0 ? -value : value;
}

/* 0 <= x <= 1. Half of the angle, twice, leaves at most a sixteenth of pi. */
static double arc_tangent(double x)
{
    x = x / (1 + sqrt(1 + x * x));
    x = x / (1 + sqrt(1 + x * x));
    double square = x * x, sum = 0;
    for (int k = 23; k > 0; k -= 2) {
        sum = 1.0 / k - sum * square;
    }
    return 4 * x * sum;
}

double elementary_atan2(double y, double x)
{
    double wide = fabs(x), high = fabs(y);
    if (!(wide > 0) && !(high > 0)) {
        return 0;
    }
    double angle = high <= wide ? arc_tangent(high / wide) : PI / 2 - arc_tangent(wide / high);
    angle = x < 0 ? PI - angle : angle;
    return y < 0 ? -angle : angle;
}
