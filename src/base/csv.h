/* base/csv.h: cells of comma-separated text (RFC 4180). */
#ifndef ALIDADE_BASE_CSV_H
#define ALIDADE_BASE_CSV_H

#include <stdio.h>

/* A text, in quotes where it needs them. One that a spreadsheet would take for a formula (it begins
 * with =, +, -, @, a tab or a line end) gets an apostrophe in front; other control characters
 * become question marks. */
void csv_write_text(FILE *out, const char *text);

/* A comma and a number with so many digits after the point, or nothing if it is not finite. */
void csv_add_number(FILE *out, double value, int decimals);

#endif
