/* index-build/votable_rows.h: the rows of a VOTable that are not spelt out: base64 and bytes. */
#ifndef ALIDADE_INDEX_BUILD_VOTABLE_ROWS_H
#define ALIDADE_INDEX_BUILD_VOTABLE_ROWS_H

#include "base/error.h"
#include "column_list.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How the cells of a column lie in a row (IVOA VOTable 1.5, sections 2.1, 2.2 and 6). */
struct votable_field {
    char kind;         /* of datatype: B boolean, b bit, u unsignedByte, s short, i int, l long,
                          c char, U unicodeChar, f float, d double, F, D complex; 0: unknown */
    size_t item_bytes; /* 0 for bits, which are packed */
    uint64_t items;    /* of a cell of fixed size; of one that varies, those of each step */
    bool varies;       /* a number of items stands before the cell */
};

/* False when the datatype is unknown or the size makes no sense. arraysize: "" or "10", "*",
 * "3x4*". */
bool votable_field_read(struct votable_field *field, const char *datatype, const char *arraysize);

/* Bytes that have come but are not yet a row. Starts as all zeros. */
struct votable_bytes {
    unsigned char *bytes; /* owned */
    size_t size, room, used;
    uint32_t bits; /* of base64 that are no byte yet */
    int bit_count;
    bool padded; /* "=" was met, after which nothing may follow */
};

/* Appends base64 text (RFC 4648; blanks and line ends are passed over). ERROR_INPUT for other
 * characters, ERROR_MEMORY; name is the file's. */
int votable_bytes_add(struct votable_bytes *bytes, const char *text, size_t length,
                      const char *name, struct error *err);
void votable_bytes_free(struct votable_bytes *bytes);

/* One cell of a row: where its items begin and how many there are. */
struct votable_cell {
    const unsigned char *start; /* NULL: missing */
    uint64_t items;
};

/* Takes the next row: 1 and cell filled (count of them), 0 when not all of it has come, -1 when it
 * is larger than any row can be. flagged: marks of missing cells stand before it (BINARY2). The
 * cells point into bytes until it grows. */
int votable_bytes_row(struct votable_cell *cell, struct votable_bytes *bytes,
                      const struct votable_field *field, int count, bool flagged);

/* The number in a cell of one item, NaN when it has none or is no number. whole gets the value of
 * an integer in full, *is_whole whether it is one. */
double votable_cell_number(const struct votable_cell *cell, const struct votable_field *field,
                           int64_t *whole, bool *is_whole);

#endif
