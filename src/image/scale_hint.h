/* image/scale_hint.h: the scale of a picture that its facts imply. */
#ifndef ALIDADE_IMAGE_SCALE_HINT_H
#define ALIDADE_IMAGE_SCALE_HINT_H

#include "image/frame.h"

struct scale_hint {
    double arcsec_px;  /* per pixel of the picture */
    double tolerance;  /* how far it may be off, relative, either way */
    struct fact focal; /* that it rests on: a true focal length, or a 35 mm equivalent */
    struct fact pixel; /* unknown: the picture's diagonal stands for 43.27 mm */
};

/* Pixels of a picture, width x height, for one pixel that the camera recorded; NaN if it was
 * cropped to another shape, for then nothing tells how it was scaled. 1 if the file does not keep
 * what was recorded. Cameras count a few pixels of the margin more or less than programs take. */
double scale_since_taken(const struct frame_facts *facts, int width, int height);

/* 206.265 * pixel_um / focal_mm, else from the 35 mm equivalent and the picture's diagonal if the
 * picture, width x height, has a camera's proportions and is not smaller than the sensor noted
 * (CIPA DCG-001). The tolerance grows with what is known to round or guess. False if unknown. */
bool scale_hint_find(struct scale_hint *hint, const struct frame_facts *facts, int width,
                     int height);

/* Writes "focal length 250 mm (EXIF FocalLength), pixel 3.7 um (focal-plane resolution)". */
void scale_hint_write(char *out, size_t size, const struct scale_hint *hint);

#endif
