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

/* The same on a clock whose days all have 86400 s, as a camera's have: other than time_add only
 * within a day that ends with a leap second. */
struct utc time_add_clock(struct utc utc, double seconds);

/* A date of the calendar at so many hours after midnight; false, with *utc untouched, for a date
 * that there is not. */
bool time_from_date(struct utc *utc, int year, int month, int day, int hour);
/* Its date. */
void time_date(int *year, int *month, int *day, struct utc utc);

enum { TIME_STAMP_DECIMALS = 9 };

/* A time as a file, a log or a person states it. All zeros: it is not known. */
struct time_stamp {
    bool known;
    bool zoned;   /* it says that it is UTC, or by how much not; else utc is what it would be if
                     the clock that it is of showed UTC */
    int decimals; /* of the second, with which it is printed again: 0 to TIME_STAMP_DECIMALS */
    struct utc utc;
};

/* A time in UTC that is printed with so many decimals. */
struct time_stamp time_stamp_utc(struct utc utc, int decimals);

/* Reads what time_read does, with the zone and the decimals that the text has; *stamp is not known
 * for anything else, and for "". */
bool time_stamp_read(struct time_stamp *stamp, const char *text);

/* Writes "2026-03-14T21:04:05.25", with "Z" if it is zoned; "" if it is not known. Inverse of
 * time_stamp_read for texts in UTC with seconds. size 36 is enough. */
void time_stamp_write(char *out, size_t size, const struct time_stamp *stamp);

/* Julian date as one number. */
double time_julian_date(struct utc utc);

/* Greenwich mean sidereal time, degrees, [0, 360): IAU 2006, with UT1 taken for UTC (up to 0.9 s,
 * that is 13 arcsec, wrong). Add an east longitude for local sidereal time. */
double time_sidereal_deg(struct utc utc);

#endif
