/* index-build/star_columns.h: which column of a table means what, and in which unit. */
#ifndef ALIDADE_INDEX_BUILD_STAR_COLUMNS_H
#define ALIDADE_INDEX_BUILD_STAR_COLUMNS_H

#include "base/error.h"
#include "catalogue.h"

#include <stdbool.h>
#include <stddef.h>

/* What a star is made of. */
enum star_part {
    PART_RA,
    PART_DEC,
    PART_MAG,
    PART_COLOUR,
    PART_ID,
    PART_PM_RA,
    PART_PM_DEC,
    PART_COUNT
};

/* The columns of a table as the readers find them. Borrowed. */
struct column_list {
    const char *table; /* file name, for messages */
    int count;
    const char *const *name;
    const char *const *unit; /* "" where unknown */
};

/* Where the parts of a star stand and how to bring them to degrees, magnitudes and mas/yr. */
struct star_columns {
    int column[PART_COUNT];    /* -1: the table has none */
    double factor[PART_COUNT]; /* what to multiply a plain number with */
    bool ra_unit_told;         /* by the name, the unit or the user */
    bool pm_ra_is_coordinate;  /* does not include cos(dec) */
    double years;              /* how far to move the stars; 0: leave them */
    bool epoch_ignored;        /* a column states the epoch, but the caller did not */
    bool has_faintest, has_brightest;
    double faintest, brightest;
};

/* ERROR_INPUT when right ascension, declination or magnitude are not found (the message lists the
 * columns there are), when a unit is unknown, or when motions are asked for and not there. */
int star_columns_find(struct star_columns *out, const struct column_list *list,
                      const struct catalogue_columns *wanted, struct error *err);

/* "right ascension" and so on, for messages. */
const char *star_part_name(enum star_part part);

/* Whether the text is a unit of right ascension or declination ("deg", "h:m:s"); for tables with
 * a row of units below the names. */
bool star_columns_is_unit(const char *text, enum star_part part);

#endif
