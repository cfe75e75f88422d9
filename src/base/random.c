#include "base/random.h"

#include <math.h>

static const double turn = 6.283185307179586;

uint64_t random_bits(struct random *r)
{
    r->state += UINT64_C(0x9e3779b97f4a7c15);
    uint64_t z = r->state;
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

double random_uniform(struct random *r)
{
    return (double)(random_bits(r) >> 11) * 0x1p-53;
}

double random_between(struct random *r, double low, double high)
{
    return low + (high - low) * random_uniform(r);
}

/* Box & Muller's transform without its second value: the state stays one number. */
double random_normal(struct random *r)
{
    double radius = sqrt(-2 * log(1 - random_uniform(r)));
    return radius * cos(turn * random_uniform(r));
}

/* Counts how many waiting times fit into one unit. */
double random_poisson(struct random *r, double mean)
{
    if (!(mean > 0)) {
        return 0;
    }
    if (mean > 50) {
        double x = floor(mean + sqrt(mean) * random_normal(r) + 0.5);
        return x > 0 ? x : 0;
    }
    double limit = exp(-mean), product = random_uniform(r), count = 0;
    while (product > limit) {
        product *= random_uniform(r);
        count++;
    }
    return count;
}

/* Archimedes: the height on a sphere is evenly spread. */
void random_direction(struct random *r, double v[3])
{
    double z = random_between(r, -1, 1), angle = turn * random_uniform(r);
    double across = sqrt(1 - z * z);
    v[0] = across * cos(angle);
    v[1] = across * sin(angle);
    v[2] = z;
}
