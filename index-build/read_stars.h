/* index-build/read_stars.h: the readers behind catalogue_read, one for each kind of file. */
#ifndef ALIDADE_INDEX_BUILD_READ_STARS_H
#define ALIDADE_INDEX_BUILD_READ_STARS_H

#include "base/file.h"
#include "catalogue.h"
#include "star_row.h"

/* What a reader is to do. All borrowed. */
struct read_task {
    const char *name;                       /* of the file */
    const struct catalogue_columns *wanted; /* as the caller put it */
    catalogue_progress progress;            /* may be NULL */
    void *context;
};

/* Both append the good rows to catalogue, count all of them in tally and say in columns where the
 * parts of a star were found. ERROR_INPUT, ERROR_MEMORY; the catalogue may have grown by then. */

/* A delimited text file; a header row may be followed by a row of units and a row of dashes. The
 * pages of map that are done with are given back to the system, so that a large file does not
 * count as memory. */
int read_text_stars(struct catalogue *catalogue, struct row_tally *tally,
                    struct star_columns *columns, const struct file_map *map,
                    const struct read_task *task, struct error *err);

/* The first table of a FITS file (binary or ASCII) that has the columns; FITS standard 4.0,
 * sections 7.2 and 7.3. */
int read_fits_table_stars(struct catalogue *catalogue, struct row_tally *tally,
                          struct star_columns *columns, const struct read_task *task,
                          struct error *err);

#endif
