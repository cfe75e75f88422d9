/* image/picture_rows.h: colours of a file, in numbers of any range, to the frame's picture.
 *
 * Two walks through the file's rows: one that looks at some of them, one that adds them all. */
#ifndef ALIDADE_IMAGE_PICTURE_ROWS_H
#define ALIDADE_IMAGE_PICTURE_ROWS_H

#include "base/error.h"
#include "image/binner.h"
#include "image/stretch.h"

#include <stdbool.h>
#include <stdint.h>

/* Starts as all zeros, which takes and does nothing; free with picture_rows_free. */
struct picture_rows {
    struct binner *binner; /* borrowed */
    struct stretch stretch;
    float *line;        /* one row of the picture, 0 to 1 */
    unsigned char *rgb; /* the same in 8 bits */
    uint16_t *deep;     /* or in 16 */
};

/* After binner_start, where a picture is wanted. ERROR_MEMORY. */
int picture_rows_start(struct picture_rows *rows, struct binner *binner, struct error *err);

/* Shows it a row of the file, so many of them from the first; grey files give one list three
 * times. */
void picture_rows_look(struct picture_rows *rows, int row, const float *const colour[3]);

/* Between the walks; full as for stretch_settle. */
void picture_rows_settle(struct picture_rows *rows, float full);

/* Once settled: whether the picture's values are in proportion to those of the file. */
bool picture_rows_in_proportion(const struct picture_rows *rows);

/* Whether the colours of the next row, if they are those of times rows, are needed. */
bool picture_rows_wants(const struct picture_rows *rows, int times);
/* Adds the next row, from the file's first to its last, times times; NULL: the same one again, or
 * one that is not wanted. */
void picture_rows_add(struct picture_rows *rows, const float *const colour[3], int times);

void picture_rows_free(struct picture_rows *rows);

#endif
