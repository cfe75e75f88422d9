#include "night/arrivals.h"

#include "base/median.h"

#include <math.h>

static const double jump_s = 300;
/* Of the time in which frames were taken: as fast as that they may come, or 2 s off. */
static const double same_pace = 0.2, same_pace_s = 2;
enum { LATEST = 3 };

/* 0: the latest. */
static int place_of(const struct arrivals *arrivals, int back)
{
    return (arrivals->count - 1 - back) % ARRIVALS_RECENT;
}

void arrivals_add(struct arrivals *arrivals, double taken_s, double came_s)
{
    double lag_s = came_s - taken_s;
    if (arrivals->count && fabs(lag_s - arrivals->lag_s[place_of(arrivals, 0)]) > jump_s) {
        arrivals->count = 0;
    }
    arrivals->least_lag_s = arrivals->count ? fmin(arrivals->least_lag_s, lag_s) : lag_s;
    arrivals->count++;
    arrivals->taken_s[place_of(arrivals, 0)] = taken_s;
    arrivals->lag_s[place_of(arrivals, 0)] = lag_s;
}

double arrivals_late_s(const struct arrivals *arrivals)
{
    double late_s = INFINITY;
    if (arrivals->count < LATEST) {
        return 0;
    }
    for (int i = 0; i < LATEST; i++) {
        late_s = fmin(late_s, arrivals->lag_s[place_of(arrivals, i)] - arrivals->least_lag_s);
    }
    return late_s;
}

bool arrivals_lag(double *lag_s, const struct arrivals *arrivals)
{
    double sorted[ARRIVALS_RECENT];
    if (arrivals->count < ARRIVALS_RECENT) {
        return false;
    }
    int first = place_of(arrivals, ARRIVALS_RECENT - 1), last = place_of(arrivals, 0);
    double taken_s = arrivals->taken_s[last] - arrivals->taken_s[first];
    double drifted_s = arrivals->lag_s[last] - arrivals->lag_s[first];
    for (int i = 0; i < ARRIVALS_RECENT; i++) {
        sorted[i] = arrivals->lag_s[i];
    }
    *lag_s = median_of(sorted, ARRIVALS_RECENT);
    return taken_s > 0 && fabs(drifted_s) <= fmax(same_pace * taken_s, same_pace_s);
}
