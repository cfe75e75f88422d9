/* image/tiff_file.h: TIFF files opened quietly; what kind of picture they hold. */
#ifndef ALIDADE_IMAGE_TIFF_FILE_H
#define ALIDADE_IMAGE_TIFF_FILE_H

#include "image/picture_source.h"

#include <stdbool.h>
#include <tiffio.h>

/* One open file. Starts as all zeros; free with tiff_file_close. Must not be moved while open. */
struct tiff_file {
    TIFF *tiff;
    const char *name;  /* borrowed, as all of the source */
    char trouble[160]; /* what the library complained of first; empty: nothing */
    int warnings;      /* so far */
    struct picture_source source;
    size_t at; /* in its bytes */
};

/* Whether these are the first bytes of a TIFF or BigTIFF file, in either byte order. */
bool tiff_file_recognise(const unsigned char *head, size_t size);

/* Opens for reading, at the first directory. The library's warnings are counted, its first error
 * is kept for tiff_file_fail. ERROR_INPUT, ERROR_MEMORY. */
int tiff_file_open(struct tiff_file *file, const struct picture_source *source, struct error *err);
void tiff_file_close(struct tiff_file *file);

/* Sets err to one sentence: what was being read, and what the library had to say. ERROR_INPUT. */
int tiff_file_fail(const struct tiff_file *file, const char *doing, struct error *err);

/* Goes to the first directory that holds a picture of full size: no preview, no mask. ERROR_INPUT
 * if there is none. */
int tiff_file_find_picture(struct tiff_file *file, struct error *err);

/* Whether any directory, or one below it, holds sensor values (TIFF/EP's colour filter array, or
 * DNG's marks). False for what cannot be read. */
bool tiff_file_holds_raw(const struct picture_source *source);

/* What the directories say of where pixels are. */
struct tiff_file_extent {
    double largest;      /* pixels of the largest picture */
    double pixel_bytes;  /* of all of them, packed or not */
    double sensor_start; /* where the first strip or tile of sensor values begins; 0: none */
    double sensor_end;   /* behind the last of them */
    bool is_dng;
};

/* False for what cannot be read. */
bool tiff_file_measure(struct tiff_file_extent *extent, const struct picture_source *source);

#endif
