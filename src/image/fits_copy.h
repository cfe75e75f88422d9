/* image/fits_copy.h: a frame as a FITS file that knows where it points. */
#ifndef ALIDADE_IMAGE_FITS_COPY_H
#define ALIDADE_IMAGE_FITS_COPY_H

#include "base/file.h"
#include "image/frame.h"
#include "image/picture_source.h"
#include "sky/wcs.h"

#include <stdbool.h>
#include <stddef.h>

/* Of a FITS file: a copy with all its units, in which the image's header gets the cards of
 * wcs_fits_write, and loses those of any WCS it had. Of another: the frame's picture, which must
 * have been read with keep_levels, as a cube of red, green and blue, 8 or 16 bits; row 1 is the
 * lowest.
 * source: what the frame was read from. A file is written to a temporary one, then renamed. Unless
 * replace is set, a FITS file with data that is there already must hold the same data in all its
 * units, as an earlier copy does: else ERROR_OUTPUT.
 * ERROR_OUTPUT, ERROR_INPUT, ERROR_MEMORY. */
int fits_copy_write(const struct file_target *target, const struct picture_source *source,
                    const struct frame *frame, const struct wcs *wcs, bool replace,
                    struct error *err);

/* The FITS file name, which the frame was read from, with the cards in its image's header, in place
 * of those of any WCS it had; a checksum in that header is renewed. That the data of all units are
 * what they were, byte for byte, is proved before the file is replaced, by a rename; other hard
 * links to it keep the old one. ERROR_USAGE if it is no FITS file, or packed with gzip;
 * ERROR_OUTPUT, ERROR_INPUT, ERROR_MEMORY. */
int fits_copy_update(const char *name, const struct frame *frame, const struct wcs *wcs,
                     struct error *err);

/* Whether anything follows the first header of a FITS file; true as well for one that ends within
 * it. */
bool fits_copy_has_data(const unsigned char *bytes, size_t size);

#endif
