#include "base/catalogue_table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static int find_columns(struct catalogue_table *table, const char *const *columns,
                        struct error *err)
{
    for (int i = 0; columns[i]; i++) {
        table->column[i] = table_column(&table->table, columns[i]);
        if (table->column[i] < 0) {
            return error_set(err, ERROR_INPUT, "%s: line %ld: expected a column named %s",
                             table->name, table->table.line_number, columns[i]);
        }
    }
    return 0;
}

int catalogue_table_open(struct catalogue_table *table, const char *folder, const char *file,
                         const char *const *columns, struct error *err)
{
    memset(table, 0, sizeof *table);
    int length = snprintf(table->name, sizeof table->name, "%s/%s", folder, file);
    if (length < 0 || (size_t)length >= sizeof table->name) {
        return error_set(err, ERROR_INPUT, "%.200s: the name of the folder is too long", folder);
    }
    int code = file_map_open(&table->map, table->name, err);
    if (!code) {
        code = table_open(&table->table, (const char *)table->map.bytes, table->map.size,
                          table->name, err);
    }
    if (!code) {
        code = find_columns(table, columns, err);
    }
    if (code) {
        catalogue_table_close(table);
    }
    return code;
}

void catalogue_table_close(struct catalogue_table *table)
{
    file_map_close(&table->map);
    memset(table, 0, sizeof *table);
}

double catalogue_table_number(const struct catalogue_table *table, int column)
{
    double value;
    return table_double(&table->table, table->column[column], &value) ? value : NAN;
}

int catalogue_table_place(double *ra_deg, double *dec_deg, const struct catalogue_table *table,
                          int ra_column, int dec_column, struct error *err)
{
    double ra = catalogue_table_number(table, ra_column);
    double dec = catalogue_table_number(table, dec_column);
    if (!(ra >= 0 && ra <= 360)) {
        return catalogue_table_expected(table, "a right ascension of 0 to 360 degrees", err);
    }
    if (!(dec >= -90 && dec <= 90)) {
        return catalogue_table_expected(table, "a declination of -90 to 90 degrees", err);
    }
    *ra_deg = ra;
    *dec_deg = dec;
    return 0;
}

int catalogue_table_expected(const struct catalogue_table *table, const char *what,
                             struct error *err)
{
    return error_set(err, ERROR_INPUT, "%s: line %ld: expected %s", table->name,
                     table->table.line_number, what);
}
