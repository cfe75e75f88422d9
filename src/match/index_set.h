/* match/index_set.h: several indexes that are used as one: of the whole sky, and deep ones of a
 * part of it. */
#ifndef ALIDADE_MATCH_INDEX_SET_H
#define ALIDADE_MATCH_INDEX_SET_H

#include "match/index.h"

enum { INDEX_SET_MOST = 32 };

struct index_set_part {
    char *name; /* of the file, owned */
    struct index_file file;
};

/* Starts as all zeros; free with index_set_close. */
struct index_set {
    char *given[INDEX_SET_MOST]; /* files and folders as they were added, owned */
    int givens;
    struct index_set_part part[INDEX_SET_MOST];
    int parts;
};

/* Adds an index, or all files of a folder that end in ".alidx", in order of their names. On failure
 * nothing is added. ERROR_INPUT: as index_open has it, or a folder without an index, or more than
 * INDEX_SET_MOST in all; ERROR_MEMORY. */
int index_set_add(struct index_set *set, const char *name, struct error *err);
void index_set_close(struct index_set *set);

/* The first file that was written to since it was opened; NULL if none was. */
const char *index_set_changed(const struct index_set *set);
/* Opens all anew, by what was given. On failure nothing has changed. ERROR_INPUT, ERROR_MEMORY. */
int index_set_renew(struct index_set *set, struct error *err);

/* Stars of a square degree where the index has any, roughly. */
double index_set_density(const struct index *index);

/* The order in which to try the parts for a field of so many square degrees, 0 if unknown: first
 * those that have stars enough there, the fewest first, then the others, those with most first. */
void index_set_order(const struct index *order[INDEX_SET_MOST], const struct index_set *set,
                     double square_degrees);

#endif
