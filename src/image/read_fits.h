/* image/read_fits.h: FITS files; the functions of struct format. */
#ifndef ALIDADE_IMAGE_READ_FITS_H
#define ALIDADE_IMAGE_READ_FITS_H

#include "image/frame.h"
#include "image/picture_source.h"

bool read_fits_recognise(const unsigned char *head, size_t size,
                         const struct picture_source *source);
int read_fits(struct frame *frame, const struct picture_source *source,
              const struct frame_options *options, struct error *err);

#endif
