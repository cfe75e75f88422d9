#include "stars/profile.h"

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
    double half = hypot((p->xx - p->yy) / 2, p->xy);
    *longer = sqrt(fmax(mean + half, 0));
    *shorter = sqrt(fmax(mean - half, 0));
}

double profile_width(const struct profile *p)
{
    return sqrt(sqrt(fmax(p->xx * p->yy - p->xy * p->xy, 0)));
}

double profile_angle_deg(const struct profile *p)
{
    return atan2(2 * p->xy, p->xx - p->yy) / 2 * DEG_PER_RAD;
}

struct profile profile_clamp(struct profile p)
{
    const double least = 0.65, most_short = 3.5, most_long = 5;
    double longer, shorter;
    profile_widths(&p, &longer, &shorter);
    shorter = fmin(fmax(shorter, least), most_short);
    longer = fmin(fmax(longer, shorter), most_long);
    double angle = profile_angle_deg(&p) / DEG_PER_RAD;
    double c = cos(angle), s = sin(angle), a = longer * longer, b = shorter * shorter;
    struct profile clamped = {a * c * c + b * s * s, (a - b) * c * s, a * s * s + b * c * c};
    return clamped;
}

double profile_value(const struct profile *p, double dx, double dy)
{
    double det = p->xx * p->yy - p->xy * p->xy;
    double r2 = (p->yy * dx * dx - 2 * p->xy * dx * dy + p->xx * dy * dy) / det;
    return exp(-r2 / 2) / (2 * PI * sqrt(det));
}
