/* draw/drawing.h: something drawn, with or without a picture below it, put into a file or memory.
 */
#ifndef ALIDADE_DRAW_DRAWING_H
#define ALIDADE_DRAW_DRAWING_H

#include "base/file.h"
#include "draw/canvas.h"
#include "image/frame.h"

#include <stdbool.h>

enum drawing_format { DRAWING_PNG, DRAWING_JPEG, DRAWING_SVG, DRAWING_PDF, DRAWING_FORMATS };

/* By the end of the file's name: .png, .jpg, .jpeg, .svg, .pdf in any letter case. ERROR_USAGE. */
int drawing_format_of(enum drawing_format *format, const char *name, struct error *err);

struct drawing {
    const char *name;          /* of the file to write; for memory, what messages call it */
    struct file_bytes *memory; /* empty before; NULL: the file is written */
    enum drawing_format format;
    const struct theme *theme;
    int width, height;                 /* px */
    const struct picture *picture;     /* of that size; NULL: nothing below the drawing */
    const struct picture_source *jpeg; /* a JPEG stream that holds just the picture, for SVG and PDF
                                          to take as it is; or NULL */
    bool opaque; /* without a picture: the content fills its ground, so no alpha is needed */
};

/* Draws the content on the canvas. Returns 0 or an error code. */
typedef int drawing_content(struct canvas *canvas, void *context, struct error *err);

/* Writes to a temporary file that is renamed in the end; on failure nothing is left. PNG has 8 or
 * 16 bits as the picture has. SVG counts in the picture's pixels; a PDF's page is as long as A4.
 * The same drawing gives the same bytes, but for numbers within an SVG that count the drawings of a
 * process. ERROR_OUTPUT, ERROR_MEMORY; ERROR_INPUT for a picture
 * that is too large or cannot be drawn; what content returns. */
int drawing_write(const struct drawing *drawing, drawing_content *content, void *context,
                  struct error *err);

#endif
