/* image/colour_profile.h: what the numbers of a picture mean as colours, as its file states it. */
#ifndef ALIDADE_IMAGE_COLOUR_PROFILE_H
#define ALIDADE_IMAGE_COLOUR_PROFILE_H

#include "image/frame.h"

#include <stdbool.h>
#include <stddef.h>

/* Whether the bytes are an ICC profile of red, green and blue by its header (ISO 15076-1, 7.2), of
 * at most 4 MiB. */
bool colour_profile_is_rgb(const unsigned char *bytes, size_t size);

/* Copies the profile of the file to the picture; what is no profile of that kind, or doesn't fit
 * into memory, is left out: the picture counts as sRGB then. Only for pictures whose values are
 * those of the file. bytes may be NULL. */
void colour_profile_keep(struct picture *picture, const unsigned char *bytes, size_t size);

#endif
