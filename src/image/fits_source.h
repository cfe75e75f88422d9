/* image/fits_source.h: FITS files for CFITSIO, whether in a file or in memory, packed or not. */
#ifndef ALIDADE_IMAGE_FITS_SOURCE_H
#define ALIDADE_IMAGE_FITS_SOURCE_H

#include "image/picture_source.h"

#include <fitsio.h>
#include <stdbool.h>

/* Starts as all zeros; fits_source_start, then fits_source_open, then fits_source_close. Must not
 * be moved while it is open. */
struct fits_source {
    struct picture_source plain; /* what the guard and the library are to read */
    bool zipped;
    size_t packed_size; /* bytes before any unpacking */
    fitsfile *file;     /* NULL until fits_source_open */
    unsigned char
        *unpacked; /* or a copy; up to the end of its last record; NULL: none was needed */
    void *bytes;   /* the library asks for places of these two */
    size_t size;
};

/* A byte of deflate codes at most so many (RFC 1951: 258 in two bits). */
#define FITS_DEFLATE_RATIO 1032.0

/* Looks at the first and last bytes; packed bytes in memory are unpacked, which the library does
 * only for files, as are LZW-packed ones, and bytes that end within a record are copied. What states more than deflate can
 * hold is refused before memory is given to it. ERROR_INPUT, ERROR_MEMORY. */
int fits_source_start(struct fits_source *input, const struct picture_source *source,
                      struct error *err);

/* Opens for reading, to be called when a guard has looked at input->plain. Errors as
 * fits_name_open; else *status, 0 before, tells. */
int fits_source_open(struct fits_source *input, int *status, struct error *err);

/* Accepts one that is empty or half-made. */
void fits_source_close(struct fits_source *input);

/* Whether these are the first bytes of a gzip file (RFC 1952), or of one that is packed at all. */
bool fits_source_is_gzip(const unsigned char *head, size_t size);
bool fits_source_is_packed(const unsigned char *head, size_t size);

#endif
