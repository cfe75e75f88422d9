/* index-build/build.h: from the stars of a catalogue to an index file. */
#ifndef ALIDADE_INDEX_BUILD_BUILD_H
#define ALIDADE_INDEX_BUILD_BUILD_H

#include "base/error.h"
#include "catalogue.h"

#include <stdint.h>
#include <stdio.h>

struct build_options {
    const char *name;   /* of the catalogue, for display; at most 63 bytes are kept */
    const char *source; /* provenance in short; at most 127 bytes are kept */
    double faintest;    /* magnitude; NaN: no limit */
    double density;     /* stars kept per square degree, the brightest of each place; 0: 30 */
    int neighbours;     /* brighter neighbours that quads are made of, 3..15; 0: the default */
    int quads;          /* kept of each star, the narrowest; 0: the default */
    int threads;        /* 0: one a processor */
    const char *beside; /* large intermediate files go beside the file of this name; NULL: where the
                           system keeps such files */
    catalogue_progress progress; /* may be NULL */
    void *context;
};

struct build_report {
    long stars, quads;
    long dropped;               /* stars beyond faintest or density */
    double density;             /* that was kept to */
    double brightest, faintest; /* magnitudes */
    uint64_t bytes;
    double narrowest_deg, median_deg, widest_deg; /* diameters of some of the quads */
};

/* Writes the index to out, which must be at its beginning and allow to go back there; whether a
 * write failed, its error mark tells. The catalogue is emptied. The bytes are the same for the same
 * stars in any order and on any number of threads. Memory: some 36 bytes a star beside the
 * catalogue, and 300 MB. ERROR_INPUT if fewer than 4 stars are left or if they make no quad,
 * ERROR_MEMORY, ERROR_OUTPUT. */
int build_index(FILE *out, struct build_report *report, struct catalogue *catalogue,
                const struct build_options *options, struct error *err);

/* The same in steps, for those who have quads chosen elsewhere: begin, then chunks of stars in
 * order, each either chosen here or taken, then end, which frees the build in each case. Whoever
 * begins with the same stars and options can choose any chunk (choose_quads.h, by
 * build_choose_one). What is given to build_begin is borrowed until the end. */
struct build;

/* As build_index; chunks gets how many there are. NULL on failure. */
struct build *build_begin(uint32_t *chunks, FILE *out, struct build_report *report,
                          struct catalogue *catalogue, const struct build_options *options,
                          struct error *err);
/* Chunks from first to before end. As build_index. */
int build_choose(struct build *build, uint32_t first, uint32_t end);
struct chosen;
/* Chooses a chunk and keeps nothing of it; the caller frees it by chosen_free. */
void build_choose_one(struct chosen *chosen, const struct build *build, uint32_t chunk);
/* Takes the next chunk and frees it. As build_index. */
int build_take(struct build *build, struct chosen *chosen);
/* As build_index; with abandoned, it only frees the build, and returns 0. */
int build_end(struct build *build, bool abandoned);

#endif
