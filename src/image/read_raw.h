/* image/read_raw.h: camera raw files; the functions of struct format. */
#ifndef ALIDADE_IMAGE_READ_RAW_H
#define ALIDADE_IMAGE_READ_RAW_H

#include "image/frame.h"
#include "image/picture_source.h"

bool read_raw_recognise(const unsigned char *head, size_t size,
                        const struct picture_source *source);
/* Whether LibRaw finds a frame in a file that nobody recognised; text is not shown to it. */
bool read_raw_knows(const unsigned char *head, size_t size, const struct picture_source *source);
int read_raw(struct frame *frame, const struct picture_source *source,
             const struct frame_options *options, struct error *err);

#endif
