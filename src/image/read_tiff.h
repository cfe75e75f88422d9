/* image/read_tiff.h: TIFF files; the functions of struct format. */
#ifndef ALIDADE_IMAGE_READ_TIFF_H
#define ALIDADE_IMAGE_READ_TIFF_H

#include "image/frame.h"
#include "image/picture_source.h"

bool read_tiff_recognise(const unsigned char *head, size_t size,
                         const struct picture_source *source);
int read_tiff(struct frame *frame, const struct picture_source *source,
              const struct frame_options *options, struct error *err);

#endif
