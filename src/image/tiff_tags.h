/* image/tiff_tags.h: EXIF values of a TIFF file. */
#ifndef ALIDADE_IMAGE_TIFF_TAGS_H
#define ALIDADE_IMAGE_TIFF_TAGS_H

#include "image/exif_tags.h"

/* Notes what the directory of the picture and the EXIF and GPS directories below it hold. What is
 * damaged is passed over. */
void tiff_tags_read(struct exif_tags *tags, const struct picture_source *source);

#endif
