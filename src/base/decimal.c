#include "base/decimal.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

/* What a decimal number is made of: digits * 10^power. */
struct decimal {
    uint64_t digits;
    long power;
    bool any;
};

enum { MAX_POWER = 100000 };

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Digits beyond the nineteenth only count towards the power: they are below the last place. */
static const char *read_digits(struct decimal *d, const char *p, const char *end, long step)
{
    const uint64_t room = (UINT64_MAX - 9) / 10;
    const char *first = p;
    for (; p < end && is_digit(*p); p++) {
        if (d->digits <= room) {
            d->digits = d->digits * 10 + (uint64_t)(*p - '0');
            d->power += step;
        } else {
            d->power += step + 1;
        }
    }
    d->any = d->any || p > first;
    return p;
}

static const char *read_power(struct decimal *d, const char *p, const char *end)
{
    const char *q = p + 1;
    bool negative = q < end && *q == '-';
    if (q < end && (*q == '-' || *q == '+')) {
        q++;
    }
    if (q >= end || !is_digit(*q)) {
        return p; /* the letter belongs to what follows */
    }
    long power = 0;
    for (; q < end && is_digit(*q); q++) {
        power = power < MAX_POWER ? power * 10 + (*q - '0') : power;
    }
    d->power += negative ? -power : power;
    return q;
}

/* Both factors are exact, so the one rounding is the right one (Clinger 1990, PLDI, "How to read
 * floating point numbers accurately", section 5). Else strtod gets a form without a decimal
 * point, the one thing in it that depends on the locale. */
static double decimal_value(const struct decimal *d)
{
    static const double ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                 1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    if (d->digits <= (UINT64_C(1) << 53) && d->power >= -22 && d->power <= 22) {
        double digits = (double)d->digits;
        return d->power < 0 ? digits / ten[-d->power] : digits * ten[d->power];
    }
    char text[64];
    snprintf(text, sizeof text, "%llue%ld", (unsigned long long)d->digits, d->power);
    return strtod(text, NULL);
}

const char *decimal_read(double *value, const char *start, const char *end)
{
    struct decimal d = {0, 0, false};
    const char *p = start;
    bool negative = p < end && *p == '-';
    if (p < end && (*p == '-' || *p == '+')) {
        p++;
    }
    p = read_digits(&d, p, end, 0);
    if (p < end && *p == '.') {
        p = read_digits(&d, p + 1, end, -1);
    }
    if (!d.any) {
        return NULL;
    }
    if (p < end && (*p == 'e' || *p == 'E')) {
        p = read_power(&d, p, end);
    }
    double v = decimal_value(&d);
    if (!isfinite(v)) {
        return NULL;
    }
    *value = negative ? -v : v;
    return p;
}
