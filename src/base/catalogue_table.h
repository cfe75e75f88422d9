/* base/catalogue_table.h: the bundled tables, opened by name with their columns looked up. */
#ifndef ALIDADE_BASE_CATALOGUE_TABLE_H
#define ALIDADE_BASE_CATALOGUE_TABLE_H

#include "base/error.h"
#include "base/file.h"
#include "base/table.h"

enum { CATALOGUE_TABLE_COLUMNS = 16 };

/* Starts as all zeros; free with catalogue_table_close. */
struct catalogue_table {
    struct file_map map;
    struct table table;
    int column[CATALOGUE_TABLE_COLUMNS]; /* places of the columns asked for, in that order */
    char name[1024];                     /* of the file, for messages */
};

/* Opens folder/file and finds the columns, a list that ends with NULL. ERROR_INPUT if the file
 * cannot be read or lacks one of them. */
int catalogue_table_open(struct catalogue_table *table, const char *folder, const char *file,
                         const char *const *columns, struct error *err);
void catalogue_table_close(struct catalogue_table *table);

/* The number in a column of the current row, NAN if the cell is empty or not a number. column
 * counts in the list given to catalogue_table_open; the same below. */
double catalogue_table_number(const struct catalogue_table *table, int column);

/* Right ascension [0, 360] and declination of the current row. ERROR_INPUT naming the line. */
int catalogue_table_place(double *ra_deg, double *dec_deg, const struct catalogue_table *table,
                          int ra_column, int dec_column, struct error *err);

/* ERROR_INPUT: "file: line n: expected ...". */
int catalogue_table_expected(const struct catalogue_table *table, const char *what,
                             struct error *err);

#endif
