/* draw/write_png.h: a drawing as a PNG file. */
#ifndef ALIDADE_DRAW_WRITE_PNG_H
#define ALIDADE_DRAW_WRITE_PNG_H

#include "base/error.h"

#include <stdio.h>

/* Writes rows of 32-bit pixels in the byte order of the machine, 0x00RRGGBB, stride bytes apart, as
 * 8-bit sRGB. name is for messages. ERROR_OUTPUT, ERROR_MEMORY; the stream may then hold half a
 * file. */
int write_png(FILE *stream, const char *name, const unsigned char *pixels, int width, int height,
              int stride, struct error *err);

#endif
