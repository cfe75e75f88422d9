/* base/text.h: numbers and angles as people write them. */
#ifndef ALIDADE_BASE_TEXT_H
#define ALIDADE_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Reads the whole of text (leading and trailing blanks allowed) as a finite decimal number,
 * independent of locale. Returns false, leaving *value alone, for anything else. */
bool text_read_double(double *value, const char *text);

/* The same for a whole number that fits a long. */
bool text_read_long(long *value, const char *text);

/* Reads a right ascension into degrees, 0 <= *deg < 360: "314.696", "20h58m47.0s", "20:58:47",
 * "20h 58m 47s". A bare number is degrees. Returns false if it is neither or out of range. */
bool text_read_ra(double *deg, const char *text);

/* Reads a declination into degrees, -90..90: "+44.33", "+44°20'02\"", "+44:20:02", "44d20m02s".
 * Returns false if it is none of these or out of range. */
bool text_read_dec(double *deg, const char *text);

/* Reads "RA,DEC" (also separated by blanks when each part has none) through the two above. */
bool text_read_radec(double *ra_deg, double *dec_deg, const char *text);

/* Writes "20h58m47.0s" (tenths of a second of time); ra_deg may be any finite angle. */
void text_write_ra(char *out, size_t size, double ra_deg);

/* Writes "+44°20'02\"" (whole arcseconds), UTF-8. */
void text_write_dec(char *out, size_t size, double dec_deg);

/* Writes an angle in the unit that reads best: 12.3°, 45', 8". */
void text_write_angle(char *out, size_t size, double angle_deg);

/* The nearest number of so many decimals, for printing: never a negative zero. */
double text_rounded(double value, int decimals);

/* snprintf at the end of the text that out, of size bytes, holds; what does not fit is cut. */
void text_append(char *out, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A copy on the heap, or NULL when memory is short; the caller frees it. */
char *text_copy(const char *text);

#endif
