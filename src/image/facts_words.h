/* image/facts_words.h: what a file says about how it was taken, and where it says so, in words. */
#ifndef ALIDADE_IMAGE_FACTS_WORDS_H
#define ALIDADE_IMAGE_FACTS_WORDS_H

#include "image/frame.h"

/* Each writes an empty text if the file says nothing. */

/* "2026-03-14T21:04:05Z (EXIF DateTimeOriginal and its offset)" */
void facts_write_time(char *out, size_t size, const struct frame_facts *facts);

/* "Make Model, lens; 2 s (EXIF ExposureTime), f/4 (EXIF FNumber), ISO 3200 (FITS ISOSPEED)" */
void facts_write_camera(char *out, size_t size, const struct frame_facts *facts);

/* "50.1000° N, 10.2000° E, 320 m (EXIF GPS)" */
void facts_write_place(char *out, size_t size, const struct frame_facts *facts);

#endif
