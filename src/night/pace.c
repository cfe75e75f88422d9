#include "night/pace.h"

#include "base/median.h"

#include <math.h>
#include <stdbool.h>

static const double longest_gap_s = 300, usual_pause_s = 1;
static const double quiet_intervals = 5, least_quiet_s = 60;

void pace_add(struct pace *pace, double gap_s)
{
    if (gap_s < longest_gap_s) {
        pace->gap_s[pace->gaps++ % PACE_GAPS] = gap_s;
    }
}

/* The n-th of the latest gaps. */
static double gap_before(const struct pace *pace, int n)
{
    return pace->gap_s[(pace->gaps - 1 - n) % PACE_GAPS];
}

/* Few gaps may be pauses, but what is like an exposure and a second is none. */
static double cadence_of_few(const struct pace *pace, double usual_s)
{
    const double likely = 5, alike = 2;
    double shorter = (double)INFINITY, longer = 0;
    for (int i = 0; i < pace->gaps; i++) {
        shorter = fmin(shorter, gap_before(pace, i));
        longer = fmax(longer, gap_before(pace, i));
    }
    if (!(shorter > 0 && shorter < likely * usual_s)) {
        return usual_s;
    }
    return longer < alike * shorter ? (shorter + longer) / 2 : shorter;
}

/* Clocks that count whole seconds give gaps of 2 and 3 s to frames every 2.5 s: their mean is
 * right. */
double pace_cadence_s(const struct pace *pace, double exposure_s)
{
    enum { FEWEST = 3, LATEST = 9 };
    const double whole_s = 1.01;
    int count = pace->gaps < PACE_GAPS ? pace->gaps : PACE_GAPS, alike = 0;
    int latest = count < LATEST ? count : LATEST;
    double sorted[LATEST], sum = 0;
    if (count < FEWEST) {
        return cadence_of_few(pace, exposure_s > 0 ? exposure_s + usual_pause_s : 0);
    }
    for (int i = 0; i < latest; i++) {
        sorted[i] = gap_before(pace, i);
    }
    double median = median_of(sorted, latest);
    for (int i = 0; i < count; i++) {
        bool like = fabs(gap_before(pace, i) - median) < whole_s;
        alike += like;
        sum += like ? gap_before(pace, i) : 0;
    }
    return alike ? sum / alike : median;
}

double pace_quiet_s(double cadence_s)
{
    return fmax(least_quiet_s, quiet_intervals * cadence_s);
}
