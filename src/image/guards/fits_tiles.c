#include "image/guards/fits_tiles.h"

#include "image/guards/gzip_check.h"
#include "image/guards/hcompress_check.h"
#include "image/guards/plio_check.h"
#include "image/guards/rice_check.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>

/* Where the pixels of a tile may be, in the order in which the library looks for them. */
enum column { CODED, GZIPPED, PLAIN, COLUMNS };

struct tiles {
    fitsfile *file;
    const struct fits_place *place;
    const long *length;
    double most_bytes;
    int column[COLUMNS]; /* in the table, from 1; 0 where there is none */
    unsigned char *bytes;
    size_t room;
    int status; /* of the library */
};

/* Sides of the tile in this row of the table, from 1; tiles at the far edges may be smaller. Returns
 * its pixels. */
static long tile_sides(long sides[3], const struct tiles *t, long row)
{
    long rest = row - 1, pixels = 1;
    for (int i = 0; i < 3; i++) {
        long side = t->place->tile[i], count = (t->length[i] + side - 1) / side;
        long begin = rest % count * side;
        sides[i] = t->length[i] - begin < side ? t->length[i] - begin : side;
        pixels *= sides[i];
        rest /= count;
    }
    return pixels;
}

static void find_columns(struct tiles *t)
{
    static const char *const names[] = {"COMPRESSED_DATA", "GZIP_COMPRESSED_DATA",
                                        "UNCOMPRESSED_DATA"};
    for (int i = 0; i < COLUMNS; i++) {
        char name[FLEN_VALUE];
        int status = 0;
        snprintf(name, sizeof name, "%s", names[i]);
        if (fits_get_colnum(t->file, CASEINSEN, name, &t->column[i], &status)) {
            t->column[i] = 0;
        }
    }
}

/* Elements that the row of the table states for the column; 0 where there is no such column. */
static double stated_size(struct tiles *t, enum column column, long row)
{
    LONGLONG size = 0, offset = 0;
    if (t->column[column] > 0) {
        fits_read_descriptll(t->file, t->column[column], row, &size, &offset, &t->status);
    }
    return (double)size;
}

/* Reads so many elements of the tile into t->bytes, which grows: words of a pixel list, else bytes.
 */
static bool read_elements(struct tiles *t, enum column column, long row, size_t count)
{
    bool words = column == CODED && t->place->code == TILE_PLIO;
    size_t size = count * (words ? sizeof(int16_t) : 1);
    if (size > t->room) {
        free(t->bytes);
        t->bytes = malloc(size);
        t->room = t->bytes ? size : 0;
    }
    if (!t->bytes) {
        t->status = MEMORY_ALLOCATION;
        return false;
    }
    return fits_read_col(t->file, words ? TSHORT : TBYTE, t->column[column], row, 1,
                         (LONGLONG)count, NULL, t->bytes, NULL, &t->status) == 0;
}

/* The library takes 4 bytes for a coefficient of small numbers, else 8. */
static bool check_hcompress(const struct tiles *t, size_t size, const long sides[3])
{
    int bits = t->place->pixel_bits == 8 || t->place->pixel_bits == 16 ? 31 : 62;
    return sides[2] == 1 && hcompress_check(t->bytes, size, sides[0], sides[1], bits);
}

static bool check_codes(const struct tiles *t, size_t size, const long sides[3], long pixels)
{
    const struct fits_place *place = t->place;
    switch (place->code) {
    case TILE_RICE:
        return rice_check(t->bytes, size, pixels, place->pixel_bytes, place->block);
    case TILE_PLIO:
        return plio_check((const void *)t->bytes, size, pixels);
    case TILE_HCOMPRESS:
        return check_hcompress(t, size, sides);
    case TILE_GZIP:
        break;
    }
    return gzip_check(t->bytes, size, (size_t)pixels * 8);
}

static bool check_tile(struct tiles *t, long row)
{
    long sides[3], pixels = tile_sides(sides, t, row);
    for (enum column column = CODED; column < PLAIN; column++) {
        double size = stated_size(t, column, row);
        if (t->status || size < 0 || size > t->most_bytes) {
            return false;
        }
        if (size == 0) {
            continue; /* then the next column has it */
        }
        if (!read_elements(t, column, row, (size_t)size)) {
            return false;
        }
        return column == CODED ? check_codes(t, (size_t)size, sides, pixels)
                               : gzip_check(t->bytes, (size_t)size, (size_t)pixels * 8);
    }
    return stated_size(t, PLAIN, row) == (double)pixels;
}

int fits_tiles_check(fitsfile *file, const struct fits_place *place, const long length[3],
                     double most_bytes, const char *name, struct error *err)
{
    struct tiles t = {.file = file, .place = place, .length = length, .most_bytes = most_bytes};
    bool good = true;
    find_columns(&t);
    for (long row = 1; good && row <= place->tiles; row++) {
        good = check_tile(&t, row);
        if (!good && t.status != MEMORY_ALLOCATION) {
            error_set(err, ERROR_INPUT, "%s: FITS tile %ld of %ld is damaged or ends early", name,
                      row, place->tiles);
            error_because(err, ERROR_INPUT, CAUSE_SHORT);
        }
    }
    free(t.bytes);
    return t.status == MEMORY_ALLOCATION ? error_memory(err) : good ? 0 : ERROR_INPUT;
}
