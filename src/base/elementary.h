/* base/elementary.h: functions made of sums, products, quotients and roots alone, which every
 * machine rounds alike. The C library's own differ from one to another in the last bits. */
#ifndef ALIDADE_BASE_ELEMENTARY_H
#define ALIDADE_BASE_ELEMENTARY_H

#include <math.h>

/* exp(x) for x <= 0, good to 1e-15 of itself; 0 below -700. */
double elementary_exp(double x);

/* The natural logarithm of x > 0, finite; good to 1e-15, or to that of itself if it is larger. */
double elementary_log(double x);

/* 2 / sqrt(pi) times the integral of exp(-t^2) from 0 to x; good to 1e-12. */
double elementary_erf(double x);

/* Direction of (x, y) from +x towards +y, -pi..pi; good to 1e-15. 0 for (0, 0). */
double elementary_atan2(double y, double x);

static inline double elementary_length(double x, double y)
{
    return sqrt(x * x + y * y);
}

#endif
