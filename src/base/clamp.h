/* base/clamp.h: a number held within bounds. */
#ifndef ALIDADE_BASE_CLAMP_H
#define ALIDADE_BASE_CLAMP_H

/* low <= high. NaN stays NaN. */
static inline double clamp(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

#endif
