/* image/format.h: the table of file formats. To add one: a file image/read_NAME.c with a
 * recognise and a read function, and a row in format_table.c; nothing else knows formats apart. */
#ifndef ALIDADE_IMAGE_FORMAT_H
#define ALIDADE_IMAGE_FORMAT_H

#include "image/frame.h"
#include "image/picture_source.h"

struct format {
    const char *name; /* as in struct frame */
    /* Looks at the first size bytes (16 at least, unless the file is shorter), and only where they
     * don't decide into the source. The first row that recognises a picture gets it. */
    bool (*recognise)(const unsigned char *head, size_t size, const struct picture_source *source);
    /* Asked, where it is not NULL, when no row recognises a picture: whether a library that reads
     * many formats finds one in it. */
    bool (*knows)(const unsigned char *head, size_t size, const struct picture_source *source);
    /* Fills an empty frame; frame_read frees it when this fails. */
    int (*read)(struct frame *frame, const struct picture_source *source,
                const struct frame_options *options, struct error *err);
    struct format_abilities can;
    /* How names of its files end, in lower case without the point, parted by blanks: folders are
     * searched for these. */
    const char *endings;
};

/* Ends with a row whose name is NULL. */
extern const struct format format_table[];

#endif
