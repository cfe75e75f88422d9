/* image/guards/limits.h: what a picture may claim before memory is given to it. */
#ifndef ALIDADE_IMAGE_GUARDS_LIMITS_H
#define ALIDADE_IMAGE_GUARDS_LIMITS_H

#include "base/error.h"

#include <stddef.h>

enum { LIMIT_SIDE = 60000, LIMIT_PIXELS = 400000000 };

/* Refuses a picture of width x height pixels that is empty, too large, or more than file_bytes
 * bytes can hold when each byte stands for at most pixels_per_byte pixels. ERROR_INPUT. */
int limits_check(const char *name, double width, double height, size_t file_bytes,
                 double pixels_per_byte, struct error *err);

#endif
