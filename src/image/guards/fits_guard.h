/* image/guards/fits_guard.h: a look at FITS headers before CFITSIO acts on them. */
#ifndef ALIDADE_IMAGE_GUARDS_FITS_GUARD_H
#define ALIDADE_IMAGE_GUARDS_FITS_GUARD_H

#include "image/picture_source.h"

#include <stdbool.h>

enum fits_tile_code { TILE_GZIP, TILE_RICE, TILE_PLIO, TILE_HCOMPRESS };

/* Where the image is, and how it is coded. */
struct fits_place {
    int unit; /* from 1 */
    bool cut; /* bytes in memory end before the image does: CFITSIO would read on as zeros */
    bool tiled;
    long tile[3]; /* pixels along each axis, 1 where there is no axis; the table has a row for each
                   */
    long tiles;
    enum fits_tile_code code;
    int block, pixel_bytes; /* of Rice codes */
    int pixel_bits;         /* of the image's numbers, negative for floats */
};

/* Walks the headers of the FITS file (FITS 4.0; it may be gzipped) up to the first unit with an
 * image of two axes or more, and fills *place. CFITSIO divides, loops and allocates by what headers
 * state; so all that it would act on is checked to be in range. ERROR_INPUT, also when there is no
 * image. */
int fits_guard_find_image(struct fits_place *place, const struct picture_source *source,
                          struct error *err);

#endif
