#include "image/moment.h"

#include <ctype.h>
#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* A scale without leap seconds: what a clock shows in whatever zone has none. */
static const char scale[] = "TAI";
enum { MOST_DAYS = 40000 };

/* Which characters stand between the digits of "YYYY-MM-DD hh:mm:ss". */
static bool separators_fit(const char *text)
{
    bool exif = text[4] == ':' && text[7] == ':' && text[10] == ' ';
    bool iso = text[4] == '-' && text[7] == '-' && (text[10] == 'T' || text[10] == ' ');
    return (exif || iso) && text[13] == ':' && text[16] == ':';
}

/* Reads exactly count digits. */
static bool read_digits(int *value, const char *text, int count)
{
    *value = 0;
    for (int i = 0; i < count; i++) {
        if (!isdigit((unsigned char)text[i])) {
            return false;
        }
        *value = *value * 10 + (text[i] - '0');
    }
    return true;
}

void moment_read_fraction(struct moment *m, const char *text)
{
    int digits = 0, value = 0;
    while (digits < MOMENT_DECIMALS && read_digits(&value, text, digits + 1)) {
        digits++;
    }
    if (digits > 0) {
        read_digits(&value, text, digits);
        m->day_s = floor(m->day_s) + value / pow(10, digits);
        m->decimals = digits;
    }
}

bool moment_read(struct moment *moment, const char *text)
{
    int year, month, day, hour, minute, second;
    double before, after;
    if (strlen(text) < 19 || !separators_fit(text) || !read_digits(&year, text, 4) ||
        !read_digits(&month, text + 5, 2) || !read_digits(&day, text + 8, 2) ||
        !read_digits(&hour, text + 11, 2) || !read_digits(&minute, text + 14, 2) ||
        !read_digits(&second, text + 17, 2) || year < 1980 || year > 2199 || hour > 23 ||
        minute > 59 || second > 59 || eraCal2jd(year, month, day, &before, &after) != 0) {
        return false;
    }
    *moment = (struct moment){(long)after, hour * 3600 + minute * 60 + second, 0};
    if (text[19] == '.') {
        moment_read_fraction(moment, text + 20);
    }
    return true;
}

bool moment_read_offset(int *minutes, const char *text)
{
    int hours, rest;
    if (strlen(text) < 6 || (text[0] != '+' && text[0] != '-') || text[3] != ':' ||
        !read_digits(&hours, text + 1, 2) || !read_digits(&rest, text + 4, 2) || hours > 14 ||
        rest > 59) {
        return false;
    }
    *minutes = (text[0] == '-' ? -1 : 1) * (hours * 60 + rest);
    return true;
}

static void shift(struct moment *m, double seconds)
{
    double total = m->day_s + seconds, days = floor(total / 86400);
    if (!(fabs(days) < MOST_DAYS)) {
        return; /* no exposure is that long */
    }
    m->mjd += (long)days;
    m->day_s = total - 86400 * days;
}

void moment_shift(struct moment *m, int minutes)
{
    shift(m, 60.0 * minutes);
}

void moment_shift_s(struct moment *m, double seconds)
{
    shift(m, seconds);
    m->decimals = MOMENT_DECIMALS;
}

double moment_difference_s(const struct moment *a, const struct moment *b)
{
    return 86400.0 * (double)(a->mjd - b->mjd) + a->day_s - b->day_s;
}

void moment_write(char *out, size_t size, const struct moment *m, const char *suffix)
{
    int year = 0, month = 0, day = 0, part[4] = {0};
    char fraction[16] = "";
    eraD2dtf(scale, m->decimals, ERFA_DJM0 + (double)m->mjd, m->day_s / 86400, &year, &month, &day,
             part);
    if (m->decimals) {
        snprintf(fraction, sizeof fraction, ".%0*d", m->decimals, part[3]);
    }
    snprintf(out, size, "%04d-%02d-%02dT%02d:%02d:%02d%s%s", year, month, day, part[0], part[1],
             part[2], fraction, suffix);
}
