/* draw/write_vector.h: SVG and PDF files. */
#ifndef ALIDADE_DRAW_WRITE_VECTOR_H
#define ALIDADE_DRAW_WRITE_VECTOR_H

#include "draw/drawing.h"

#include <stdio.h>

/* Draws the picture, if there is one, and the content on it. Errors as for drawing_write. */
int write_vector(FILE *stream, const struct drawing *drawing, drawing_content *content,
                 void *context, struct error *err);

#endif
