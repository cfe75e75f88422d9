#include "stars/profile.h"

#include "base/elementary.h"
#include "base/units.h"

#include <math.h>

struct profile profile_usual(void)
{
    struct profile p = {1.2, 0, 1.2};
    return p;
}

void profile_widths(const struct profile *p, double *longer, double *shorter)
{
    double mean = (p->xx + p->yy) / 2;
    double half = elementary_length((p->xx - p->yy) / 2, p->xy);
    *longer = sqrt(fmax(mean + half, 0));
    *shorter = sqrt(fmax(mean - half, 0));
}

double profile_width(const struct profile *p)
{
    return sqrt(sqrt(fmax(p->xx * p->yy - p->xy * p->xy, 0)));
}

double profile_angle_deg(const struct profile *p)
{
    return elementary_atan2(2 * p->xy, p->xx - p->yy) / 2 * DEG_PER_RAD;
}

void profile_axis(double *x, double *y, const struct profile *p)
{
    double half = (p->xx - p->yy) / 2, length = elementary_length(half, p->xy);
    double cos_2a = length > 0 ? half / length : 1;
    *x = sqrt(fmax(1 + cos_2a, 0) / 2);
    *y = copysign(sqrt(fmax(1 - cos_2a, 0) / 2), p->xy);
}

struct profile profile_clamp(struct profile p)
{
    const double least = 0.65, most_short = 3.5, most_long = 5;
    double longer, shorter;
    profile_widths(&p, &longer, &shorter);
    shorter = fmin(fmax(shorter, least), most_short);
    longer = fmin(fmax(longer, shorter), most_long);
    double c, s;
    profile_axis(&c, &s, &p);
    double a = longer * longer, b = shorter * shorter;
    struct profile clamped = {a * c * c + b * s * s, (a - b) * c * s, a * s * s + b * c * c};
    return clamped;
}

double profile_value(const struct profile *p, double dx, double dy)
{
    double det = p->xx * p->yy - p->xy * p->xy;
    double r2 = (p->yy * dx * dx - 2 * p->xy * dx * dy + p->xx * dy * dy) / det;
    return elementary_exp(-r2 / 2) / (2 * PI * sqrt(det));
}
