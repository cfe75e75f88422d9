/* image/maker_iso.h: the ISO speed that a maker's own EXIF tags state. */
#ifndef ALIDADE_IMAGE_MAKER_ISO_H
#define ALIDADE_IMAGE_MAKER_ISO_H

#include <libexif/exif-data.h>

/* 0 if it is not stated. make: EXIF's word for the maker, whose codes it may be written in. */
double maker_iso_find(ExifData *data, const char *make);

#endif
