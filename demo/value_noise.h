/* demo/value_noise.h: smooth random fields, for clouds, nebulae and skylines. */
#ifndef ALIDADE_DEMO_VALUE_NOISE_H
#define ALIDADE_DEMO_VALUE_NOISE_H

#include <stdint.h>

/* Between 0 and 1, mean about a half, with lumps of size 1 and, for each further octave, half that
 * size and half that weight. Depends on nothing but its arguments. */
double value_noise(uint64_t seed, double x, double y, int octaves);

#endif
