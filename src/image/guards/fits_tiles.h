/* image/guards/fits_tiles.h: a look at the tiles of a compressed FITS image before CFITSIO unpacks
 * them.
 */
#ifndef ALIDADE_IMAGE_GUARDS_FITS_TILES_H
#define ALIDADE_IMAGE_GUARDS_FITS_TILES_H

#include "base/error.h"
#include "image/guards/fits_guard.h"

#include <fitsio.h>

/* Looks through every tile of the image in the current unit of the file, whose axes have these
 * lengths (1 where there is none). The library would follow a run of zeros beyond the end of Rice
 * codes, wait for ever for the end of a gzip stream, and write as many plain pixels as a row of the
 * table states. most_bytes: what one tile can take. ERROR_INPUT where it would; ERROR_MEMORY. */
int fits_tiles_check(fitsfile *file, const struct fits_place *place, const long length[3],
                     double most_bytes, const char *name, struct error *err);

#endif
