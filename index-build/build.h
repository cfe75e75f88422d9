/* index-build/build.h: from the stars of a catalogue to the bytes of an index file. */
#ifndef ALIDADE_INDEX_BUILD_BUILD_H
#define ALIDADE_INDEX_BUILD_BUILD_H

#include "base/error.h"
#include "catalogue.h"

#include <stddef.h>

struct build_options {
    const char *name;   /* of the catalogue, for display; at most 63 bytes are kept */
    const char *source; /* provenance in short; at most 127 bytes are kept */
    double faintest;    /* magnitude; NaN: no limit */
    double density;     /* stars kept per square degree, the brightest of each place; 0: 30 */
    int neighbours;     /* brighter neighbours that quads are made of, 3..15; 0: the default */
    int threads;        /* 0: one a processor */
    catalogue_progress progress; /* may be NULL */
    void *context;
};

struct build_report {
    long stars, quads;
    long dropped;                                 /* stars beyond faintest or density */
    double density;                               /* that was kept to */
    double narrowest_deg, median_deg, widest_deg; /* diameters of the quads */
};

/* Builds the index in memory. The catalogue is thinned and reordered in place. The bytes are the
 * same for the same stars in any order and on any number of threads. *bytes belongs to the caller,
 * who frees it with free(). ERROR_INPUT if fewer than 4 stars are left, ERROR_MEMORY. */
int build_index(unsigned char **bytes, size_t *size, struct build_report *report,
                struct catalogue *catalogue, const struct build_options *options,
                struct error *err);

#endif
