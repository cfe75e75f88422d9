/* image/guards/plio_check.h: whether a tile of pixel lists holds what it should. */
#ifndef ALIDADE_IMAGE_GUARDS_PLIO_CHECK_H
#define ALIDADE_IMAGE_GUARDS_PLIO_CHECK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Whether the list of so many words (PLIO_1, FITS 4.0, section 10.4.3) keeps to its own length, to
 * the instructions there are, and to so many pixels. */
bool plio_check(const int16_t *words, size_t count, long pixels);

#endif
