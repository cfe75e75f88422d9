/* index-build/star_row.h: judges the rows of a catalogue and turns the good ones into stars. */
#ifndef ALIDADE_INDEX_BUILD_STAR_ROW_H
#define ALIDADE_INDEX_BUILD_STAR_ROW_H

#include "catalogue.h"
#include "star_columns.h"

#include <stdbool.h>

enum cell_state {
    CELL_ABSENT,  /* no such column, or nothing in the cell */
    CELL_NUMBER,  /* a plain number in the column's unit */
    CELL_DEGREES, /* an angle spelt out, already in degrees */
    CELL_WRONG    /* something else */
};

/* The cells of one row. */
struct star_row {
    double value[PART_COUNT];
    uint64_t number; /* the catalogue's own, where the state of PART_ID is CELL_NUMBER */
    enum cell_state state[PART_COUNT];
};

enum fault_kind {
    FAULT_NONE,
    FAULT_LEFT_OUT, /* no fault: too faint or too bright for what was wanted */
    FAULT_ABSENT,
    FAULT_WRONG,
    FAULT_RANGE
};

/* What is wrong with a row. */
struct row_fault {
    enum fault_kind kind;
    enum star_part part;
};

/* What was met so far in some rows; starts as all zeros. */
struct row_tally {
    struct catalogue_report report;
    long unmoved;    /* stars that have no proper motion */
    long unnumbered; /* stars whose number does not fit */
    bool ra_spelt;   /* some right ascensions were spelt out */
    bool any;        /* whether the bounds below hold anything */
    double ra_most;  /* of those that were plain numbers, degrees */
    double mag_least, mag_most;
    double epoch_least, epoch_most; /* Julian years */
};

/* Reads one cell of text: a plain number, or an angle spelt out where one may stand. */
void star_row_set_text(struct star_row *row, enum star_part part, const char *start, size_t length);

/* Sets the cell of the catalogue's own number from a whole one, all bits kept. */
void star_row_set_whole(struct star_row *row, int64_t value);

/* Sets one cell from a number; NaN and infinities count as absent. */
void star_row_set_number(struct star_row *row, enum star_part part, double value);

/* Turns the row into a star, or says what is wrong with it. Notes what it saw in tally. */
struct row_fault star_row_judge(struct catalogue_star *star, struct row_tally *tally,
                                const struct star_row *row, const struct star_columns *columns);

/* Counts a row as used, left out or bad; keeps a bad one as a sample when there is room. text is
 * the cell's own text, length bytes. */
void row_tally_count(struct row_tally *tally, struct row_fault fault,
                     const struct star_columns *columns, long line, const char *text,
                     size_t length);

/* The same for a row that is bad as a whole. */
void row_tally_count_bad(struct row_tally *tally, long line, const char *reason);

/* Adds what was met in later rows; their line numbers grow by line_shift. */
void row_tally_merge(struct row_tally *tally, const struct row_tally *later, long line_shift);

/* Puts what the user should know into the report's warnings. */
void row_tally_warn(struct row_tally *tally, const struct star_columns *columns);

/* Whether what was read would make an index of use: ERROR_INPUT when right ascensions may be hours
 * taken as degrees, when all stars are equally bright, or when the positions are for several
 * years. name is the file's. */
int row_tally_check(const struct row_tally *tally, const struct star_columns *columns,
                    const char *name, struct error *err);

/* Moves a direction along a great circle by a proper motion: the new unit vector.
 * pm_ra includes cos(dec), both mas/yr. The straight line through space that has no radial
 * velocity, as in the Hipparcos catalogue, vol. 1, section 1.5.5, with zero parallax. */
void star_row_move(double v[3], double ra_deg, double dec_deg, double pm_ra, double pm_dec,
                   double years);

#endif
