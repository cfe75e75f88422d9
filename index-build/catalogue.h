/* index-build/catalogue.h: the stars of a catalogue in memory, before they become an index. */
#ifndef ALIDADE_INDEX_BUILD_CATALOGUE_H
#define ALIDADE_INDEX_BUILD_CATALOGUE_H

#include "base/error.h"

#include <stdbool.h>
#include <stdint.h>

enum { CATALOGUE_NO_COLOUR = INT16_MIN };

/* 24 bytes, so that 25 million stars take 600 MB. */
struct catalogue_star {
    int32_t place[2]; /* ICRS, as index_set_place has it: good to 0.0002 arcsec */
    int16_t mag;      /* thousandths of a magnitude */
    int16_t colour;   /* B-V, thousandths; CATALOGUE_NO_COLOUR if unknown */
    uint32_t key;     /* of those who sort */
    uint64_t id;      /* the catalogue's own number, 0 if it has none */
};

/* Starts as all zeros. */
struct catalogue {
    struct catalogue_star *star;
    long count, capacity;
    double epoch_year; /* Julian year that the positions are for; 0 before anything was read */
};

/* ra_deg 0..360, dec_deg -90..90, mag -30..30; b_v NaN when unknown. False if memory is short. */
bool catalogue_add(struct catalogue *catalogue, double ra_deg, double dec_deg, double mag,
                   double b_v, uint64_t id);

/* Appends count stars as they are. False if memory is short. */
bool catalogue_append(struct catalogue *catalogue, const struct catalogue_star *star, long count);
void catalogue_free(struct catalogue *catalogue);

/* How to read a catalogue file; all zeros will do. A column name of NULL means: look for a usual
 * one. All borrowed. */
struct catalogue_columns {
    const char *ra, *dec, *mag, *colour, *id, *pm_ra, *pm_dec; /* "NAME" or "NAME:UNIT" */
    bool ra_in_hours;        /* for a column whose name and unit do not say; else they must agree */
    bool pm_without_cos_dec; /* the motion in right ascension is that of the coordinate */
    const char *columns;  /* of text without a row of names: "ra:h,dec,-,mag"; NULL: it has one */
    const char *describe; /* file with the byte-by-byte description of a table of fixed width */
    const char *table; /* which of several in a file, by its name or number; NULL: the only one */
    double from_epoch; /* Julian year of the positions; 0: what the file or its columns tell */
    double to_epoch;   /* apply proper motion to this year; 0: leave as they are */
    bool has_faintest, has_brightest;
    double faintest, brightest; /* magnitudes: stars beyond are left out while reading */
    int threads;                /* 0: one a processor */
};

/* What was wrong with it. The first few bad lines are kept for the report. */
struct catalogue_report {
    long rows; /* used + left_out + bad */
    long used;
    long left_out; /* by magnitude */
    long bad;
    int samples;
    struct {
        long line; /* line of the text file, row of the FITS table; from 1 */
        char reason[120];
    } sample[10];
    bool rows_are_lines; /* whether sample[].line counts lines of text */
    int warnings;
    char warning[4][240]; /* what the user should know, a sentence each */
};

/* Called now and then with the share done, 0..1; may be NULL. */
typedef void (*catalogue_progress)(double share, void *context);

/* Appends the stars of a file to catalogue, whose epoch must be the same if it holds stars already.
 * What the file is shows in its bytes: text with cells parted by comma, tab, semicolon, bar or
 * blanks, text of fixed width with a description, VOTable or FITS, each also packed by gzip. RA and
 * Dec are degrees unless the column's name or unit, or the catalogue that the columns are known
 * from, says otherwise; cells like "12 34 56.7" or "12:34:56.7" are hours in RA, degrees in Dec.
 * Proper motions are mas/yr (pm_ra includes cos(dec)) unless the unit says otherwise; a star
 * without one stays in its place. Bad rows are counted, never used. ERROR_INPUT when columns are
 * missing (the message lists those found), when no row is usable, when it is open whether right
 * ascensions are hours, when motions are asked for and not there, or when the file is not a table;
 * ERROR_MEMORY. The stars of an earlier file stay in any case. */
int catalogue_read(struct catalogue *catalogue, struct catalogue_report *report, const char *name,
                   const struct catalogue_columns *columns, catalogue_progress progress,
                   void *context, struct error *err);

#endif
