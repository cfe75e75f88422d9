/* index-build/star_columns.h: which column of a table means what, and in which unit. */
#ifndef ALIDADE_INDEX_BUILD_STAR_COLUMNS_H
#define ALIDADE_INDEX_BUILD_STAR_COLUMNS_H

#include "base/error.h"
#include "catalogue.h"
#include "column_list.h"

#include <stdbool.h>
#include <stddef.h>

/* What a star is made of. The parts up to PART_MAG must be there. */
enum star_part {
    PART_RA,
    PART_DEC,
    PART_MAG,
    PART_COLOUR,
    PART_ID,
    PART_PM_RA,
    PART_PM_DEC,
    PART_EPOCH,
    /* What is added to the two when hours, minutes and seconds stand in columns of their own. */
    PART_RA_MINUTES,
    PART_RA_SECONDS,
    PART_DEC_SIGN,
    PART_DEC_MINUTES,
    PART_DEC_SECONDS,
    /* What stands in for the first three in rows that lack them. */
    PART_RA_ELSE,
    PART_DEC_ELSE,
    PART_MAG_ELSE,
    PART_COUNT
};

/* Where the parts of a star stand and how to bring them to degrees, magnitudes and mas/yr. */
struct star_columns {
    int column[PART_COUNT];    /* -1: the table has none */
    double factor[PART_COUNT]; /* what to multiply a plain number with */
    double null[PART_COUNT];   /* the number that stands for a missing one; NaN: none does */
    char ra_name[72];          /* of the column, for messages */
    bool ra_unit_told;         /* by the name, the unit, the catalogue or the user */
    bool pm_ra_is_coordinate;  /* does not include cos(dec) */
    const char *known;         /* the catalogue that the columns are of; NULL: unknown */
    double from_epoch;         /* Julian year of the positions, where no column says it */
    bool epoch_told;           /* by the user or by the file; else it is the catalogue's or 2000 */
    double to_epoch;           /* where to move the stars; 0: leave them */
    bool has_faintest, has_brightest;
    double faintest, brightest;
};

/* ERROR_INPUT when right ascension, declination or magnitude are not found (the message lists the
 * columns there are), when a unit is unknown, when the equinox is not J2000, or when motions are
 * asked for and not there. */
int star_columns_find(struct star_columns *out, const struct column_list *list,
                      const struct catalogue_columns *wanted, struct error *err);

/* "right ascension" and so on, for messages. */
const char *star_part_name(enum star_part part);

/* The part itself for those that must be there, and what it adds to or stands in for. */
enum star_part star_part_of(enum star_part part);

/* Whether the text is a unit of right ascension or declination ("deg", "h:m:s"); for tables with
 * a row of units below the names. */
bool star_columns_is_unit(const char *text, enum star_part part);

#endif
