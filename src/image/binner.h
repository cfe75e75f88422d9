/* image/binner.h: the rows of a file, turned as displayed, into a frame's plane and picture. */
#ifndef ALIDADE_IMAGE_BINNER_H
#define ALIDADE_IMAGE_BINNER_H

#include "image/frame.h"

/* How the file's rows and columns map to the display: EXIF 2.32, tag 274. */
enum orientation {
    ORIENT_AS_IS = 1,
    ORIENT_FLIP_X = 2,
    ORIENT_HALF_TURN = 3,
    ORIENT_FLIP_Y = 4,
    ORIENT_TRANSPOSE = 5,
    ORIENT_TURN_RIGHT = 6, /* a quarter clockwise brings it upright */
    ORIENT_TRANSVERSE = 7,
    ORIENT_TURN_LEFT = 8
};

/* Starts as all zeros; free with binner_free. width and height count pixels as stored in the file,
 * rows go in from the file's first to its last. */
struct binner {
    struct frame *frame; /* borrowed */
    int width, height;
    bool flip_x, flip_y, transpose; /* flips, of the file's axes, come before the transposition */
    int row;                        /* the next one */
    int columns, rows;              /* of the plane before it is transposed */
    int skip_x, skip_y;             /* the rest that binning leaves out, when it comes first */
    int picture_row;
    double cell_px;             /* of a sampled picture */
    int *column_of, columns_of; /* the file's columns that its samples are of, so many */
    int *row_of, rows_of;       /* and rows */
    float *line, *sum, *block;
    unsigned char *picture_block;
    bool deep; /* the picture has 16 bits a value */
    bool keep_levels;
};

/* Sets the frame's size, allocates its plane and, if wanted, its picture; their contents are
 * undefined until all rows have come. Any orientation not in 1..8 counts as 1. The bin is a
 * multiple of cell: 2 for a colour filter mosaic, whose pixels only make sense by fours, else 1.
 * bits: of the file's values; above 8 the picture becomes a deep one if that is wanted.
 * ERROR_MEMORY. */
int binner_start(struct binner *binner, struct frame *frame, int width, int height, int orientation,
                 int cell, int bits, const struct frame_options *options, struct error *err);

/* Where the luminance of the next row, width values, is to be put before binner_add. */
float *binner_line(struct binner *binner);
void binner_add(struct binner *binner);

/* Whether the picture keeps anything of its next rows, count of them. */
bool binner_wants(const struct binner *binner, int count);
/* Puts the next row, width * 3 values, into the picture of 8 bits, or into the deep one; does
 * nothing if there is none. Of a row that is not wanted the values do not matter. */
void binner_add_rgb(struct binner *binner, const unsigned char *rgb);
void binner_add_deep(struct binner *binner, const uint16_t *rgb);

void binner_free(struct binner *binner);

#endif
