/* draw/write_jpeg.h: a drawing with its picture as a JPEG file. */
#ifndef ALIDADE_DRAW_WRITE_JPEG_H
#define ALIDADE_DRAW_WRITE_JPEG_H

#include "base/error.h"
#include "draw/blend.h"

#include <stdio.h>

/* Colour is kept for each pixel, so that thin lines stay clean. ERROR_OUTPUT, naming the file, or
 * ERROR_MEMORY. */
int write_jpeg(FILE *stream, const char *name, const struct blend *blend, struct error *err);

#endif
