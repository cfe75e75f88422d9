/* index-build/known_tables.h: catalogues that are known by their columns or by how a line looks. */
#ifndef ALIDADE_INDEX_BUILD_KNOWN_TABLES_H
#define ALIDADE_INDEX_BUILD_KNOWN_TABLES_H

#include "column_list.h"

#include <stdbool.h>
#include <stddef.h>

enum { KNOWN_NAMES = 5 };

/* A catalogue by its columns. */
struct known_columns {
    const char *title;
    double epoch;                   /* Julian year of the positions */
    const char *needs[KNOWN_NAMES]; /* plain names, all of which must be there */
    const char *ra_unit;            /* of a right ascension that does not say; NULL: as usual */
    const char *mag;                /* the magnitude to take; NULL: the usual one */
};

/* NULL if the columns are of no catalogue known here. */
const struct known_columns *known_by_columns(const struct column_list *list);

/* A catalogue without a row of names, by its first line. */
struct known_lines {
    const char *title;
    double epoch;
    const char *pattern;     /* see known_tables.c */
    char delimiter;          /* 0: the columns have fixed places */
    const char *columns;     /* as column_list_parse reads them */
    const char *description; /* as description_read reads it, for fixed places */
};

const struct known_lines *known_by_line(const char *line, const char *end);

#endif
