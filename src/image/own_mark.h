/* image/own_mark.h: the word by which a drawing of this project is known from a photograph. */
#ifndef ALIDADE_IMAGE_OWN_MARK_H
#define ALIDADE_IMAGE_OWN_MARK_H

#include <stdbool.h>

/* In a PNG file as a tEXt chunk "Software" (PNG specification, 11.3.3.2), in a JPEG file as a
 * comment. */
#define OWN_MARK_KEYWORD "Software"
#define OWN_MARK "Alidade"

/* In the header of a FITS file, within its first 4096 bytes. */
#define OWN_MARK_CARD "GLIMPSE =                    T / by " OWN_MARK

/* Whether a PNG or JPEG file carries the mark before its pixels, and no EXIF: what has passed
 * through a camera or an editor that writes EXIF is no drawing of ours any more. False for what
 * cannot be read. */
bool own_mark_found(const char *name);

#endif
