#include "night/night_curve.h"

#include <math.h>
#include <string.h>

enum { TERMS = 3, MATRIX = 4, FIRST_TERM = 9 };

static double half_square(const struct wcs *wcs)
{
    double w = wcs->width, h = wcs->height;
    return (w * w + h * h) / 4;
}

/* Radial terms are polynomials of u and v, and their first coefficients tell them. */
void night_curve_take(struct night_curve *curve, const struct wcs *wcs)
{
    *curve = (struct night_curve){.ra_deg = wcs->ra_deg,
                                  .dec_deg = wcs->dec_deg,
                                  .x = wcs->x,
                                  .y = wcs->y,
                                  .turn_deg = wcs->turn_deg};
    memcpy(curve->cd, wcs->cd, sizeof curve->cd);
    for (int i = 0; i < TERMS; i++) {
        int power = 2 * i + 3;
        curve->term[i] = power <= wcs->order ? wcs->a[power][0] * pow(half_square(wcs), i + 1) : 0;
    }
}

void night_curve_wcs(struct wcs *wcs, const struct night_curve *curve)
{
    static const double binomial[TERMS][TERMS + 1] = {{1, 1}, {1, 2, 1}, {1, 3, 3, 1}};
    wcs->ra_deg = curve->ra_deg;
    wcs->dec_deg = curve->dec_deg;
    wcs->x = curve->x;
    wcs->y = curve->y;
    wcs->turn_deg = curve->turn_deg;
    memcpy(wcs->cd, curve->cd, sizeof wcs->cd);
    for (int n = 1; n <= TERMS; n++) {
        double share = curve->term[n - 1] / pow(half_square(wcs), n);
        for (int k = 0; k <= n && share != 0; k++) {
            wcs->order = 2 * n + 1;
            wcs->a[2 * (n - k) + 1][2 * k] = share * binomial[n - 1][k];
            wcs->b[2 * (n - k)][2 * k + 1] = share * binomial[n - 1][k];
        }
    }
}

bool night_curve_is_known(const struct night_curve *curve)
{
    return fabs(curve->cd[0][0] * curve->cd[1][1] - curve->cd[0][1] * curve->cd[1][0]) > 0;
}

void night_curve_numbers(double number[NIGHT_CURVE_NUMBERS], const struct night_curve *curve)
{
    const double first[MATRIX] = {curve->ra_deg, curve->dec_deg, curve->x, curve->y};
    memcpy(number, first, sizeof first);
    memcpy(number + MATRIX, curve->cd, sizeof curve->cd);
    number[FIRST_TERM - 1] = curve->turn_deg;
    memcpy(number + FIRST_TERM, curve->term, sizeof curve->term);
}

static bool is_sound(const double number[NIGHT_CURVE_NUMBERS])
{
    static const double most[NIGHT_CURVE_NUMBERS] = {360, 90, 1e6, 1e6, 10, 10,
                                                     10,  10, 360, 1,   1,  1};
    bool good = true;
    for (int i = 0; i < NIGHT_CURVE_NUMBERS; i++) {
        good = good && fabs(number[i]) <= most[i]; /* which NaN is not */
    }
    return good;
}

void night_curve_from_numbers(struct night_curve *curve, const double number[NIGHT_CURVE_NUMBERS])
{
    *curve = (struct night_curve){0};
    if (is_sound(number)) {
        *curve = (struct night_curve){.ra_deg = number[0],
                                      .dec_deg = number[1],
                                      .x = number[2],
                                      .y = number[3],
                                      .turn_deg = number[FIRST_TERM - 1]};
        memcpy(curve->cd, number + MATRIX, sizeof curve->cd);
        memcpy(curve->term, number + FIRST_TERM, sizeof curve->term);
    }
}
