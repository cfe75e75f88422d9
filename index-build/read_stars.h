/* index-build/read_stars.h: the readers behind catalogue_read, one for each form of a table. Each
 * finds names, units and rows of cells in its own way; what they mean is for star_columns.h and
 * star_row.h to say. */
#ifndef ALIDADE_INDEX_BUILD_READ_STARS_H
#define ALIDADE_INDEX_BUILD_READ_STARS_H

#include "catalogue.h"
#include "input.h"
#include "star_row.h"

/* What a reader is to do. All borrowed. */
struct read_task {
    const char *name;                       /* of the file */
    const struct catalogue_columns *wanted; /* as the caller put it */
    catalogue_progress progress;            /* may be NULL */
    void *context;
};

/* All append the good rows to catalogue, count all of them in tally and say in columns where the
 * parts of a star were found. They hold no more of the file than some megabytes at a time.
 * ERROR_INPUT, ERROR_MEMORY; the catalogue may have grown by then. */

/* Text whose cells are parted by a delimiter or have fixed places; see text_heading.h. */
int read_text_stars(struct catalogue *catalogue, struct row_tally *tally,
                    struct star_columns *columns, struct input *input, const struct read_task *task,
                    struct error *err);

/* The table of a VOTable document (IVOA recommendation, version 1.5) that has the columns:
 * TABLEDATA, BINARY and BINARY2 within the document. Nothing outside it is ever opened. */
int read_votable_stars(struct catalogue *catalogue, struct row_tally *tally,
                       struct star_columns *columns, struct input *input,
                       const struct read_task *task, struct error *err);

/* The first table of a FITS file (binary or ASCII) that has the columns; FITS standard 4.0,
 * sections 7.2 and 7.3. path is where it lies unpacked. */
int read_fits_table_stars(struct catalogue *catalogue, struct row_tally *tally,
                          struct star_columns *columns, const char *path,
                          const struct read_task *task, struct error *err);

#endif
