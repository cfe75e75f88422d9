/* index-build/fits_shape.h: a look at the headers of a FITS file before CFITSIO sees it. */
#ifndef ALIDADE_INDEX_BUILD_FITS_SHAPE_H
#define ALIDADE_INDEX_BUILD_FITS_SHAPE_H

#include "base/error.h"

#include <stddef.h>

/* Walks from header to header (FITS standard 4.0, sections 3.3 and 4.4.1) and demands whole numbers
 * within reason where the standard has them: CFITSIO 4.2 goes on with an uninitialised number of
 * columns when one of them is spoilt. ERROR_INPUT names the header and the keyword. What stands
 * behind the last header is not looked at, nor is data that is cut short. */
int fits_shape_check(const unsigned char *bytes, size_t size, const char *name, struct error *err);

#endif
