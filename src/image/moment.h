/* image/moment.h: dates and times as cameras and FITS headers write them. The calendar is ERFA's.
 */
#ifndef ALIDADE_IMAGE_MOMENT_H
#define ALIDADE_IMAGE_MOMENT_H

#include <stdbool.h>
#include <stddef.h>

enum { MOMENT_DECIMALS = 3 };

/* A plausible date from 1980 to 2199 and a time of day, in whatever zone. */
struct moment {
    long mjd;     /* the date as a modified Julian date */
    double day_s; /* seconds since its midnight */
    int decimals; /* of the second, as it was told: 0 to MOMENT_DECIMALS */
};

/* Reads "2026:03:14 21:04:05" (EXIF) or "2026-03-14T21:04:05.25" (FITS). False for anything else,
 * or when it cannot be a time a picture was taken. */
bool moment_read(struct moment *moment, const char *text);

/* Takes up to three leading digits of text as the fraction; leaves it alone if there are none. */
void moment_read_fraction(struct moment *moment, const char *text);

/* Reads an offset from UTC, "+02:00", in minutes. */
bool moment_read_offset(int *minutes, const char *text);

/* Moves by whole minutes. */
void moment_shift(struct moment *moment, int minutes);

/* Moves by any time, to the millisecond. */
void moment_shift_s(struct moment *moment, double seconds);

/* Seconds from b to a, both in the same zone; leap seconds are not counted. */
double moment_difference_s(const struct moment *a, const struct moment *b);

/* Writes "2026-03-14T21:04:05.25" and the suffix. */
void moment_write(char *out, size_t size, const struct moment *moment, const char *suffix);

#endif
