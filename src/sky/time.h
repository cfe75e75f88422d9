/* sky/time.h: moments in UTC, and the turn of the Earth. Through ERFA. */
#ifndef ALIDADE_SKY_TIME_H
#define ALIDADE_SKY_TIME_H

#include <stdbool.h>
#include <stddef.h>

/* Julian date in UTC, ERFA's quasi-JD, in two parts of which the first is a whole number or a
 * half; their sum is good to 40 us, the parts to nanoseconds. */
struct utc {
    double day, fraction;
};

/* Reads ISO 8601: "2026-03-14T21:04:05.25Z", "2026-03-14 21:04", "2026-03-14", with "Z", an offset
 * such as "+01:00", or nothing, which counts as UTC. Years 1800 to 2200. False, with *utc
 * untouched, for anything else. Inverse: time_write. */
bool time_read(struct utc *utc, const char *text);

/* Reads how far a clock is ahead of UTC as people write it: "+01:00", "1:00", "-3:30", "+1"; within
 * 14 hours. False, with *minutes untouched, for anything else. */
bool time_read_offset(double *minutes, const char *text);

/* Writes "2026-03-14T21:04:05Z", seconds rounded to decimals (0..6). size 32 is enough. */
void time_write(char *out, size_t size, struct utc utc, int decimals);

/* Later by so many seconds. A leap second in between is not counted. */
struct utc time_add(struct utc utc, double seconds);
/* Seconds from a to b, leap seconds not counted; inverse of time_add. */
double time_between(struct utc a, struct utc b);

/* Julian date as one number. */
double time_julian_date(struct utc utc);

/* Greenwich mean sidereal time, degrees, [0, 360): IAU 2006, with UT1 taken for UTC (up to 0.9 s,
 * that is 13 arcsec, wrong). Add an east longitude for local sidereal time. */
double time_sidereal_deg(struct utc utc);

#endif
