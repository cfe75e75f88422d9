/* image/exif_tags.h: EXIF values, however the file holds them, and the facts that follow. */
#ifndef ALIDADE_IMAGE_EXIF_TAGS_H
#define ALIDADE_IMAGE_EXIF_TAGS_H

#include "image/frame.h"

enum exif_directory { EXIF_FIRST, EXIF_CAMERA, EXIF_GPS, EXIF_DIRECTORIES };

enum exif_number {
    EXIF_ORIENTATION,
    EXIF_EXPOSURE_TIME,
    EXIF_F_NUMBER,
    EXIF_ISO,
    EXIF_LARGE_ISO,
    EXIF_MAKER_ISO, /* of the maker's own tags */
    EXIF_FOCAL,
    EXIF_FOCAL_35MM,
    EXIF_PLANE_X,
    EXIF_PLANE_Y,
    EXIF_PLANE_UNIT,
    EXIF_WIDTH,
    EXIF_HEIGHT,
    EXIF_BELOW_SEA,
    EXIF_NUMBERS
};

enum exif_text {
    EXIF_MAKE,
    EXIF_MODEL,
    EXIF_LENS,
    EXIF_TAKEN,
    EXIF_TAKEN_FRACTION,
    EXIF_TAKEN_OFFSET,
    EXIF_DIGITIZED,
    EXIF_DIGITIZED_FRACTION,
    EXIF_DIGITIZED_OFFSET,
    EXIF_SOUTH,
    EXIF_WEST,
    EXIF_GPS_DATE,
    EXIF_TEXTS
};

/* Whether a triple was found is told by its count. */
enum exif_triple {
    EXIF_LATITUDE,
    EXIF_LONGITUDE,
    EXIF_HEIGHT_M,
    EXIF_GPS_TIME,
    EXIF_CROP_SIZE, /* of a DNG; these two have two numbers */
    EXIF_ORIGINAL_SIZE,
    EXIF_TRIPLES
};

/* What was found; all zeros is nothing, since none of the numbers means anything when it is 0. */
struct exif_tags {
    double number[EXIF_NUMBERS];
    char text[EXIF_TEXTS][64];
    double triple[EXIF_TRIPLES][3]; /* degrees, minutes, seconds; hours, minutes, seconds */
    int count[EXIF_TRIPLES];
};

/* Notes the value of one entry of a directory, as the file holds it: TIFF 6.0, section 2. Entries
 * that nothing here needs, and those whose type makes no sense, are passed over; of two with the
 * same tag the first one counts. */
void exif_tags_add(struct exif_tags *tags, enum exif_directory directory, unsigned tag,
                   unsigned type, unsigned long count, const unsigned char *bytes, size_t size,
                   bool big_endian);

/* Notes a text of length bytes that may end earlier with a 0; trailing blanks are dropped. */
void exif_tags_set_text(struct exif_tags *tags, enum exif_text text, const void *bytes,
                        size_t length);

/* Turns what was found into facts. width and height are the picture's as stored, before
 * orientation. Facts that are missing or cannot be true are left as they were (EXIF 2.32, CIPA
 * DC-008). */
void exif_tags_facts(struct frame_facts *facts, const struct exif_tags *tags, int width,
                     int height);

/* 1..8; 1 if none is stated. */
int exif_tags_orientation(const struct exif_tags *tags);

#endif
