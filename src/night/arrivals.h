/* night/arrivals.h: frames as they come in while they are taken: how late each is, and so what the
 * camera's clock is off. */
#ifndef ALIDADE_NIGHT_ARRIVALS_H
#define ALIDADE_NIGHT_ARRIVALS_H

#include <stdbool.h>

enum { ARRIVALS_RECENT = 5 };

/* Starts as all zeros. Holds no memory of its own. */
struct arrivals {
    double taken_s[ARRIVALS_RECENT], lag_s[ARRIVALS_RECENT]; /* a ring of the latest */
    int count;                                               /* since the lag last jumped */
    double least_lag_s;                                      /* of these */
};

/* A frame: when its exposure ended, on the camera's clock, and when it came, on any other. Where
 * the time between them is longer or shorter by five minutes than with the frame before, a clock
 * was set or frames were copied, and all begins anew. */
void arrivals_add(struct arrivals *arrivals, double taken_s, double came_s);

/* By how much the three latest frames, each of them, came later than the quickest did; 0 before
 * there are three. */
double arrivals_late_s(const struct arrivals *arrivals);

/* From when a frame was taken to when it comes, median of the latest, if five frames came as fast
 * as they were taken: to a fifth of that time, or 2 seconds. Else what it says is when they were
 * copied, and false comes back. */
bool arrivals_lag(double *lag_s, const struct arrivals *arrivals);

#endif
