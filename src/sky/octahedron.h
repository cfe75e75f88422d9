/* sky/octahedron.h: a direction as two numbers within -1..1: the sphere laid on the octahedron around
 * it, whose lower half is folded out (Cigolle et al. 2014, JCGT 3(2), 1). Written out here since
 * every star that is looked at goes through it. */
#ifndef ALIDADE_SKY_OCTAHEDRON_H
#define ALIDADE_SKY_OCTAHEDRON_H

#include <math.h>

static inline double octahedron_over(double a, double b)
{
    return a < 0 ? fabs(b) - 1 : 1 - fabs(b);
}

/* v need not have length 1 but not 0. */
static inline void octahedron_fold(double place[2], const double v[3])
{
    double sum = fabs(v[0]) + fabs(v[1]) + fabs(v[2]);
    double x = v[0] / sum, y = v[1] / sum;
    place[0] = v[2] < 0 ? octahedron_over(x, y) : x;
    place[1] = v[2] < 0 ? octahedron_over(y, x) : y;
}

/* Its inverse: a unit vector, whatever the numbers are. */
static inline void octahedron_unfold(double v[3], const double place[2])
{
    double z = 1 - fabs(place[0]) - fabs(place[1]);
    double x = z < 0 ? octahedron_over(place[0], place[1]) : place[0];
    double y = z < 0 ? octahedron_over(place[1], place[0]) : place[1];
    double scale = 1 / sqrt(x * x + y * y + z * z);
    v[0] = x * scale;
    v[1] = y * scale;
    v[2] = z * scale;
}

#endif
