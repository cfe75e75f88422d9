#include "night/pace.h"

#include "base/median.h"

#include <math.h>
#include <string.h>

static const double longest_gap_s = 300, usual_pause_s = 1;
static const double quiet_intervals = 5, least_quiet_s = 60;

void pace_add(struct pace *pace, double gap_s)
{
    if (gap_s < longest_gap_s) {
        pace->gap_s[pace->gaps++ % PACE_GAPS] = gap_s;
    }
}

double pace_cadence_s(const struct pace *pace, double exposure_s)
{
    const int fewest = 3;
    double sorted[PACE_GAPS];
    int count = pace->gaps < PACE_GAPS ? pace->gaps : PACE_GAPS;
    if (count < fewest) {
        return exposure_s > 0 ? exposure_s + usual_pause_s : 0;
    }
    memcpy(sorted, pace->gap_s, sizeof sorted);
    return median_of(sorted, count);
}

double pace_quiet_s(double cadence_s)
{
    return fmax(least_quiet_s, quiet_intervals * cadence_s);
}
