/* image/samples.h: numbers of any kind, spaced in any way, to floats. */
#ifndef ALIDADE_IMAGE_SAMPLES_H
#define ALIDADE_IMAGE_SAMPLES_H

#include <stddef.h>

enum sample_kind { SAMPLE_UNSIGNED, SAMPLE_SIGNED, SAMPLE_FLOAT };

/* Converts width numbers of 8, 16 or 32 bits (floats: 16, 32 or 64), step bytes apart, in this
 * machine's byte order. What no float holds, or is beyond use (above 1e30), becomes NaN. */
void samples_to_float(float *line, const unsigned char *bytes, size_t step, int width,
                      enum sample_kind kind, int bits);

#endif
