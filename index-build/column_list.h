/* index-build/column_list.h: the columns of a table as its file names them. */
#ifndef ALIDADE_INDEX_BUILD_COLUMN_LIST_H
#define ALIDADE_INDEX_BUILD_COLUMN_LIST_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { COLUMNS_MOST = 1024, PLAIN_SIZE = 80 };

/* Texts that are too long are cut. */
struct column {
    char name[72];
    char plain[PLAIN_SIZE]; /* the same as column_make_plain leaves it */
    char unit[40];          /* "" where unknown */
    char role[40];          /* what a VOTable says that it is (UCD1+); "" where unknown */
    char null[32];          /* what stands where a value is missing; "" where unknown */
    int first, last;        /* place in a line of fixed width, bytes from 0; last is part of it */
};

/* Starts as all zeros. */
struct column_list {
    const char *table; /* file name, for messages; borrowed */
    int count, room;
    struct column *column; /* owned */
    double epoch;          /* Julian year that the file says its positions are for; 0: unknown */
    double equinox;        /* that the file says; 0: unknown; ICRS counts as 2000 */
};

/* Forgets the columns; makes room when there is none yet. ERROR_MEMORY. */
int column_list_clear(struct column_list *list, struct error *err);

/* Appends a column; name and unit need not be terminated, control characters become '?'.
 * ERROR_INPUT when there are too many. */
int column_list_add(struct column_list *list, const char *name, size_t name_length,
                    const char *unit, size_t unit_length, struct error *err);

/* Copies as much of the text as fits, without surrounding blanks. */
void column_text(char *out, size_t size, const char *text, size_t length);

/* Letters and digits only, small: "_RAJ2000" and "RA (J2000)" become "raj2000". */
void column_make_plain(char plain[PLAIN_SIZE], const char *text);

/* The columns that the user names: "ra:h,dec,-,mag" ("-" or nothing: of no use). ERROR_USAGE. */
int column_list_parse(struct column_list *list, const char *text, struct error *err);

/* Number of the column with this name, letter case aside, or -1. */
int column_list_find(const struct column_list *list, const char *name);

void column_list_free(struct column_list *list);

#endif
