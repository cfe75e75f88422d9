/* image/exif.h: what the camera wrote beside the picture (EXIF 2.32, CIPA DC-008). */
#ifndef ALIDADE_IMAGE_EXIF_H
#define ALIDADE_IMAGE_EXIF_H

#include "image/frame.h"

/* Reads an EXIF block of size bytes that begins with "Exif\0\0". width and height are the picture's
 * as stored, before orientation. Facts that are missing or cannot be true are left as they were.
 * Returns the orientation, 1..8; 1 if none is stated; 0 if memory was short. */
int exif_read(struct frame_facts *facts, const unsigned char *block, size_t size, int width,
              int height);

#endif
