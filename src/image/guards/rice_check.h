/* image/guards/rice_check.h: whether a Rice-coded tile holds what it should. */
#ifndef ALIDADE_IMAGE_GUARDS_RICE_CHECK_H
#define ALIDADE_IMAGE_GUARDS_RICE_CHECK_H

#include <stdbool.h>
#include <stddef.h>

/* Whether the codes of so many pixels end within size bytes (FITS 4.0, section 10.4.1).
 * pixel_bytes is 1, 2 or 4; block, the pixels coded together, is above 0. */
bool rice_check(const unsigned char *bytes, size_t size, long pixels, int pixel_bytes, int block);

#endif
