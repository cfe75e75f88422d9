/* base/random.h: repeatable random numbers for the demo and the tests. */
#ifndef ALIDADE_BASE_RANDOM_H
#define ALIDADE_BASE_RANDOM_H

#include <stdint.h>

/* SplitMix64 (Steele, Lea & Flood 2014, OOPSLA, "Fast splittable pseudorandom number generators").
 * Any seed will do. */
struct random {
    uint64_t state;
};

uint64_t random_bits(struct random *r);
double random_uniform(struct random *r); /* 0 <= x < 1 */
double random_between(struct random *r, double low, double high);
double random_normal(struct random *r);               /* mean 0, deviation 1 */
double random_poisson(struct random *r, double mean); /* normal approximation above 50 */
void random_direction(struct random *r, double v[3]); /* even over the unit sphere */

#endif
