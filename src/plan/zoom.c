#include "plan/zoom.h"

#include <math.h>

static const double by_fives_mm = 35, by_tens_mm = 100;

const char *zoom_reason_key(int reason)
{
    static const char *const keys[] = {"none", "longest", "fitted", "shortest", "too large"};
    return keys[reason];
}

double zoom_next_mm(double focal_mm, double shortest_mm)
{
    double step = focal_mm > by_tens_mm ? 10 : focal_mm > by_fives_mm ? 5 : 1;
    double next = step * (ceil(focal_mm / step - 1e-9) - 1);
    return fmax(next, shortest_mm);
}
