#include "rig/lens_aperture.h"

#include "base/clamp.h"

#include <math.h>
#include <stddef.h>

/* As cameras write thirds of a stop. */
static const double thirds[] = {0.7, 0.8, 0.9, 1,   1.1, 1.2, 1.4, 1.6, 1.8, 2,  2.2, 2.5, 2.8,
                                3.2, 3.5, 4,   4.5, 5,   5.6, 6.3, 7.1, 8,   9,  10,  11,  13,
                                14,  16,  18,  20,  22,  25,  29,  32,  36,  40, 45};

static double nearest_third(double f_number)
{
    double best = f_number, off = INFINITY;
    for (size_t i = 0; i < sizeof thirds / sizeof *thirds; i++) {
        if (fabs(log(thirds[i] / f_number)) < off) {
            off = fabs(log(thirds[i] / f_number));
            best = thirds[i];
        }
    }
    return best;
}

double lens_aperture(const struct lens_range *range, double focal_mm)
{
    if (!(focal_mm > range->shortest_mm) || range->f_shortest == range->f_longest) {
        return range->f_shortest;
    }
    if (focal_mm >= range->longest_mm) {
        return range->f_longest;
    }
    double part = log(focal_mm / range->shortest_mm) / log(range->longest_mm / range->shortest_mm);
    double between = range->f_shortest * pow(range->f_longest / range->f_shortest, part);
    double low = fmin(range->f_shortest, range->f_longest);
    double high = fmax(range->f_shortest, range->f_longest);
    return clamp(nearest_third(between), low, high);
}
