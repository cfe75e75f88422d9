/* image/fits_name.h: files opened by CFITSIO, under just the names that users gave. */
#ifndef ALIDADE_IMAGE_FITS_NAME_H
#define ALIDADE_IMAGE_FITS_NAME_H

#include "base/error.h"

#include <fitsio.h>

/* Opens a file for reading. No mark in its name has a meaning: neither brackets, "!", "~" and
 * leading blanks nor "mem://" and the like. ERROR_INPUT if the name is too long for the library;
 * everything else is told by *status, which is 0 before. Inverse: fits_close_file. */
int fits_name_open(fitsfile **file, const char *name, int *status, struct error *err);

#endif
