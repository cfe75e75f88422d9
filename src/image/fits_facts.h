/* image/fits_facts.h: what the cards of a FITS header say about how a frame was taken. */
#ifndef ALIDADE_IMAGE_FITS_FACTS_H
#define ALIDADE_IMAGE_FITS_FACTS_H

#include "image/frame.h"

#include <fitsio.h>

/* Adds the facts of the current unit's header: cards of the FITS standard 4.0 (DATE-OBS, DATE-BEG,
 * DATE-AVG, DATE-END, OBSGEO-B and the like) and those in common use, which no standard lists
 * (EXPTIME, FOCALLEN, XPIXSZ, OBJCTRA and the like; common practice, no source). Cards that are
 * missing, damaged or absurd leave what was known before. */
void fits_facts_read(struct frame_facts *facts, fitsfile *file);

#endif
