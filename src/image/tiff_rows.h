/* image/tiff_rows.h: the rows of a TIFF picture one after the other, from strips or tiles. */
#ifndef ALIDADE_IMAGE_TIFF_ROWS_H
#define ALIDADE_IMAGE_TIFF_ROWS_H

#include "image/tiff_file.h"

#include <stddef.h>

enum { TIFF_CHANNELS = 4 };

/* How the pixels lie, as the directory states it. */
struct tiff_layout {
    int width, height;
    int samples, bits, format; /* SAMPLEFORMAT_UINT, _INT or _IEEEFP */
    int photometric, compression;
    int colours; /* 1 or 3 */
    int alpha;   /* the sample that tells what is transparent; -1: none */
    bool apart;  /* each sample has its own plane */
    bool min_is_white;
    bool tiled;
    int tile_width, tile_height;
};

/* Reads and checks the current directory; allocates nothing. file_bytes: the file's length.
 * ERROR_INPUT for what no reader here takes. */
int tiff_layout_read(struct tiff_layout *layout, struct tiff_file *file, size_t file_bytes,
                     struct error *err);

/* A walk through the rows. Starts as all zeros; free with tiff_rows_free. Planes that lie apart are
 * walked by a handle each, so that every strip is decoded once. */
struct tiff_rows {
    struct tiff_file file[TIFF_CHANNELS];
    struct tiff_layout layout;
    int planes;
    size_t stride;                      /* bytes of a row of one plane */
    unsigned char *band[TIFF_CHANNELS]; /* rows of one plane: as many as a tile is high */
    unsigned char *tile;
    int row; /* the next one */
};

/* Opens the file at the picture that tiff_file_find_picture finds. ERROR_INPUT,
 * ERROR_MEMORY. */
int tiff_rows_open(struct tiff_rows *rows, const struct picture_source *source, size_t file_bytes,
                   struct error *err);

/* Decodes the next row; after the last one comes the first again. sample[i] is set to where sample
 * i of the row's first pixel is, *step to the bytes from there to the next pixel. ERROR_INPUT. */
int tiff_rows_next(struct tiff_rows *rows, const unsigned char *sample[TIFF_CHANNELS], size_t *step,
                   struct error *err);

void tiff_rows_free(struct tiff_rows *rows);

#endif
