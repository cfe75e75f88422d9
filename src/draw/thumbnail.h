/* draw/thumbnail.h: a frame as a small picture, for pages. */
#ifndef ALIDADE_DRAW_THUMBNAIL_H
#define ALIDADE_DRAW_THUMBNAIL_H

#include "base/file.h"
#include "image/frame.h"

struct thumbnail {
    int width, height;
    struct file_bytes jpeg;
};

/* Reads the file name, by reader unless that is NULL, and makes a JPEG about 480 pixels wide, brightened so that its stars show; a
 * frame that cannot be read makes none: 0, with no bytes. ERROR_MEMORY only. thumbnail must be all
 * zeros; free its jpeg. */
int thumbnail_make(struct thumbnail *thumbnail, const char *name, const struct frame_reader *reader,
                   struct error *err);

#endif
