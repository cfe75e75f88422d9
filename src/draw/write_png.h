/* draw/write_png.h: a drawing, with or without its picture, as a PNG file. */
#ifndef ALIDADE_DRAW_WRITE_PNG_H
#define ALIDADE_DRAW_WRITE_PNG_H

#include "base/error.h"
#include "draw/blend.h"

#include <stdio.h>

/* 8 or 16 bits as the picture has; 8 with an alpha channel if there is none and opaque is not set.
 * ERROR_OUTPUT, naming the file, or ERROR_MEMORY. */
int write_png(FILE *stream, const char *name, const struct blend *blend, bool opaque,
              struct error *err);

#endif
