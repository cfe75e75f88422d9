#include "sky/time.h"

#include "sky/vector.h"

#include <ctype.h>
#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double day_s = 86400;

struct fields {
    int year, month, day, hour, minute;
    double second;
    int offset_minutes; /* of the clock ahead of UTC */
};

/* Exactly so many digits at *p. */
static bool read_digits(int *value, const char **p, int digits)
{
    *value = 0;
    for (int i = 0; i < digits; i++, (*p)++) {
        if (!isdigit((unsigned char)**p)) {
            return false;
        }
        *value = *value * 10 + (**p - '0');
    }
    return true;
}

static bool read_mark(const char **p, char mark)
{
    if (**p != mark) {
        return false;
    }
    (*p)++;
    return true;
}

static bool read_second(double *second, const char **p)
{
    int whole;
    if (!read_digits(&whole, p, 2)) {
        return false;
    }
    *second = whole;
    if (!read_mark(p, '.')) {
        return true;
    }
    if (!isdigit((unsigned char)**p)) {
        return false;
    }
    for (double place = 0.1; isdigit((unsigned char)**p); (*p)++, place /= 10) {
        *second += place * (**p - '0');
    }
    return true;
}

/* "", "Z", "+01:00", "+0100", "-05". */
static bool read_zone(int *minutes, const char **p)
{
    int hour, minute = 0, sign = **p == '-' ? -1 : 1;
    *minutes = 0;
    if (read_mark(p, 'Z') || **p == '\0') {
        return true;
    }
    if (!read_mark(p, '+') && !read_mark(p, '-')) {
        return false;
    }
    if (!read_digits(&hour, p, 2)) {
        return false;
    }
    if (**p != '\0') {
        read_mark(p, ':');
        if (!read_digits(&minute, p, 2)) {
            return false;
        }
    }
    *minutes = sign * (hour * 60 + minute);
    return hour <= 14 && minute < 60;
}

bool time_read_offset(double *minutes, const char *text)
{
    int sign = *text == '-' ? -1 : 1, hour, minute = 0;
    const char *p = text + (*text == '-' || *text == '+');
    int digits = isdigit((unsigned char)*p) && isdigit((unsigned char)p[1]) ? 2 : 1;
    if (!read_digits(&hour, &p, digits) || (read_mark(&p, ':') && !read_digits(&minute, &p, 2)) ||
        *p != '\0' || minute > 59 || hour * 60 + minute > 14 * 60) {
        return false;
    }
    *minutes = sign * (hour * 60 + minute);
    return true;
}

static bool read_fields(struct fields *f, const char *p)
{
    *f = (struct fields){0};
    if (!read_digits(&f->year, &p, 4) || !read_mark(&p, '-') || !read_digits(&f->month, &p, 2) ||
        !read_mark(&p, '-') || !read_digits(&f->day, &p, 2)) {
        return false;
    }
    if (*p == '\0') {
        return true;
    }
    if ((!read_mark(&p, 'T') && !read_mark(&p, ' ')) || !read_digits(&f->hour, &p, 2) ||
        !read_mark(&p, ':') || !read_digits(&f->minute, &p, 2)) {
        return false;
    }
    if (read_mark(&p, ':') && !read_second(&f->second, &p)) {
        return false;
    }
    return read_zone(&f->offset_minutes, &p) && *p == '\0';
}

bool time_read(struct utc *utc, const char *text)
{
    struct fields f;
    struct utc read;
    if (!read_fields(&f, text) || f.year < 1800 || f.year > 2200) {
        return false;
    }
    /* A status of 1 says that leap seconds of that year are not known: good enough here. */
    int status = eraDtf2d("UTC", f.year, f.month, f.day, f.hour, f.minute, f.second, &read.day,
                          &read.fraction);
    if (status != 0 && status != 1) {
        return false;
    }
    *utc = f.offset_minutes ? time_add_clock(read, -60.0 * f.offset_minutes) : read;
    return true;
}

bool time_from_date(struct utc *utc, int year, int month, int day, int hour)
{
    struct utc read;
    int status = eraDtf2d("UTC", year, month, day, hour, 0, 0, &read.day, &read.fraction);
    if (year < 1800 || year > 2200 || (status != 0 && status != 1)) {
        return false;
    }
    *utc = read;
    return true;
}

void time_date(int *year, int *month, int *day, struct utc utc)
{
    int part[4];
    eraD2dtf("UTC", 0, utc.day, utc.fraction, year, month, day, part);
}

struct time_stamp time_stamp_utc(struct utc utc, int decimals)
{
    return (struct time_stamp){true, true, decimals, utc};
}

/* The digits behind the point of the second. */
static int count_decimals(const char *text)
{
    const char *point = strchr(text, '.');
    int digits = point ? (int)strspn(point + 1, "0123456789") : 0;
    return digits < TIME_STAMP_DECIMALS ? digits : TIME_STAMP_DECIMALS;
}

bool time_stamp_read(struct time_stamp *stamp, const char *text)
{
    const char *clock = strpbrk(text, "T ");
    *stamp = (struct time_stamp){0};
    if (time_read(&stamp->utc, text)) {
        stamp->known = true;
        stamp->zoned = clock && strpbrk(clock, "Z+-");
        stamp->decimals = count_decimals(text);
    }
    return stamp->known;
}

void time_stamp_write(char *out, size_t size, const struct time_stamp *stamp)
{
    out[0] = '\0';
    if (stamp->known) {
        time_write(out, size, stamp->utc, stamp->decimals);
        out[strlen(out) - !stamp->zoned] = '\0';
    }
}

void time_write(char *out, size_t size, struct utc utc, int decimals)
{
    int year = 0, month = 0, day = 0, part[4] = {0};
    eraD2dtf("UTC", decimals, utc.day, utc.fraction, &year, &month, &day, part);
    if (decimals > 0) {
        snprintf(out, size, "%04d-%02d-%02dT%02d:%02d:%02d.%0*dZ", year, month, day, part[0],
                 part[1], part[2], decimals, part[3]);
    } else {
        snprintf(out, size, "%04d-%02d-%02dT%02d:%02d:%02dZ", year, month, day, part[0], part[1],
                 part[2]);
    }
}

struct utc time_add(struct utc utc, double seconds)
{
    double fraction = utc.fraction + seconds / day_s;
    double days = floor(fraction);
    return (struct utc){utc.day + days, fraction - days};
}

struct utc time_add_clock(struct utc utc, double seconds)
{
    const char *const even_days = "TAI";
    int year, month, day, part[4];
    struct utc clock, moved;
    eraD2dtf("UTC", 9, utc.day, utc.fraction, &year, &month, &day, part);
    eraDtf2d(even_days, year, month, day, part[0], part[1], part[2] + part[3] / 1e9, &clock.day,
             &clock.fraction);
    clock = time_add(clock, seconds);
    eraD2dtf(even_days, 9, clock.day, clock.fraction, &year, &month, &day, part);
    eraDtf2d("UTC", year, month, day, part[0], part[1], part[2] + part[3] / 1e9, &moved.day,
             &moved.fraction);
    return moved;
}

double time_between(struct utc a, struct utc b)
{
    return ((b.day - a.day) + (b.fraction - a.fraction)) * day_s;
}

double time_julian_date(struct utc utc)
{
    return utc.day + utc.fraction;
}

double time_sidereal_deg(struct utc utc)
{
    double tai1, tai2, tt1, tt2;
    if (eraUtctai(utc.day, utc.fraction, &tai1, &tai2) < 0 || eraTaitt(tai1, tai2, &tt1, &tt2)) {
        tt1 = utc.day;
        tt2 = utc.fraction;
    }
    double angle = eraGmst06(utc.day, utc.fraction, tt1, tt2);
    return angle_wrap_360(angle * ERFA_DR2D);
}
