/* image/read_png.h: PNG files; the functions of struct format. */
#ifndef ALIDADE_IMAGE_READ_PNG_H
#define ALIDADE_IMAGE_READ_PNG_H

#include "image/frame.h"
#include "image/picture_source.h"

bool read_png_recognise(const unsigned char *head, size_t size,
                        const struct picture_source *source);
int read_png(struct frame *frame, const struct picture_source *source,
             const struct frame_options *options, struct error *err);

#endif
