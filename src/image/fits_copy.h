/* image/fits_copy.h: a frame as a FITS file that knows where it points. */
#ifndef ALIDADE_IMAGE_FITS_COPY_H
#define ALIDADE_IMAGE_FITS_COPY_H

#include "base/error.h"
#include "image/frame.h"
#include "sky/wcs.h"

/* Of a FITS file: a copy with all its units, in which the image's header gets the cards of
 * wcs_fits_write, and loses those of any WCS it had. Of another: the frame's picture, which must
 * have been read with keep_levels, as a cube of red, green and blue, 8 or 16 bits; row 1 is the
 * lowest.
 * source: the file that the frame was read from. Written to a temporary file, then renamed.
 * ERROR_OUTPUT, ERROR_INPUT, ERROR_MEMORY. */
int fits_copy_write(const char *name, const char *source, const struct frame *frame,
                    const struct wcs *wcs, struct error *err);

#endif
