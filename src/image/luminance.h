/* image/luminance.h: interleaved channels to one number a pixel. */
#ifndef ALIDADE_IMAGE_LUMINANCE_H
#define ALIDADE_IMAGE_LUMINANCE_H

#include <stdint.h>

/* Channels: 1 grey, 2 grey + alpha, 3 RGB, 4 RGB + alpha. The mean of the colours goes to line, NaN
 * where alpha is 0. */
void luminance_8(float *line, const uint8_t *row, int width, int channels);
void luminance_16(float *line, const uint16_t *row, int width, int channels);

/* The same rows as three bytes a pixel, without alpha. */
void luminance_to_rgb(uint8_t *rgb, const uint8_t *row, int width, int channels);

#endif
