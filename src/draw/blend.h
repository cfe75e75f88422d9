/* draw/blend.h: a drawing laid over a picture, row by row. */
#ifndef ALIDADE_DRAW_BLEND_H
#define ALIDADE_DRAW_BLEND_H

#include "draw/canvas.h"
#include "image/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A source of rows for the writers of files. */
struct blend {
    int width, height;
    struct canvas *canvas; /* a sheet of pixels of that size; NULL: nothing is drawn */
    const struct picture
        *picture;      /* of the same size; NULL: nothing, the drawing keeps its alpha */
    bool red;          /* the picture loses all but its red light */
    const char *about; /* what it shows, for a PNG's text; NULL: nothing is said */
};

/* The ICC profile that the values of the rows are coded by, and its size; NULL: sRGB. */
const unsigned char *blend_profile(const struct blend *blend, size_t *size);

/* 16 for a deep picture, else 8. */
int blend_depth(const struct blend *blend);

/* Row y in 8 bits, three bytes a pixel. Where nothing is drawn the picture's pixels come out
 * unchanged, unless red; of a deep one, its upper 8 bits. Without a picture the ground is black. */
void blend_row_8(unsigned char *out, const struct blend *blend, int y);

/* Row y of a deep picture, three values a pixel. */
void blend_row_16(uint16_t *out, const struct blend *blend, int y);

/* Row y of the drawing alone, four bytes a pixel, colours not multiplied by alpha. */
void blend_row_alpha(unsigned char *out, const struct blend *blend, int y);

#endif
