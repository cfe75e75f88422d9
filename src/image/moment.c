#include "image/moment.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static int days_in_month(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month == 2 && leap ? 29 : days[month - 1];
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Reads exactly count digits. */
static bool read_digits(int *value, const char *text, int count)
{
    *value = 0;
    for (int i = 0; i < count; i++) {
        if (!is_digit(text[i])) {
            return false;
        }
        *value = *value * 10 + (text[i] - '0');
    }
    return true;
}

/* Which characters stand between the digits of "YYYY-MM-DD hh:mm:ss". */
static bool separators_fit(const char *text)
{
    bool exif = text[4] == ':' && text[7] == ':' && text[10] == ' ';
    bool iso = text[4] == '-' && text[7] == '-' && (text[10] == 'T' || text[10] == ' ');
    return (exif || iso) && text[13] == ':' && text[16] == ':';
}

void moment_read_fraction(struct moment *m, const char *text)
{
    size_t digits = 0;
    while (digits < sizeof m->fraction - 1 && is_digit(text[digits])) {
        digits++;
    }
    if (digits > 0) {
        memcpy(m->fraction, text, digits);
        m->fraction[digits] = '\0';
    }
}

bool moment_read(struct moment *moment, const char *text)
{
    struct moment m = {0};
    if (strlen(text) < 19 || !separators_fit(text) || !read_digits(&m.year, text, 4) ||
        !read_digits(&m.month, text + 5, 2) || !read_digits(&m.day, text + 8, 2) ||
        !read_digits(&m.hour, text + 11, 2) || !read_digits(&m.minute, text + 14, 2) ||
        !read_digits(&m.second, text + 17, 2)) {
        return false;
    }
    if (m.year < 1980 || m.year > 2199 || m.month < 1 || m.month > 12 || m.day < 1 ||
        m.day > days_in_month(m.year, m.month) || m.hour > 23 || m.minute > 59 || m.second > 59) {
        return false;
    }
    if (text[19] == '.') {
        moment_read_fraction(&m, text + 20);
    }
    *moment = m;
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

static void move_day(struct moment *m, int step)
{
    m->day += step;
    if (m->day < 1) {
        m->month--;
        if (m->month < 1) {
            m->month = 12;
            m->year--;
        }
        m->day = days_in_month(m->year, m->month);
    } else if (m->day > days_in_month(m->year, m->month)) {
        m->day = 1;
        m->month++;
        if (m->month > 12) {
            m->month = 1;
            m->year++;
        }
    }
}

void moment_shift(struct moment *m, int minutes)
{
    int total = m->hour * 60 + m->minute + minutes;
    if (total < 0) {
        total += 1440;
        move_day(m, -1);
    } else if (total >= 1440) {
        total -= 1440;
        move_day(m, 1);
    }
    m->hour = total / 60;
    m->minute = total % 60;
}

/* Days since some day long ago, by the Gregorian calendar. */
static long day_number(const struct moment *m)
{
    long year = m->year - 1, day = m->day;
    for (int month = 1; month < m->month; month++) {
        day += days_in_month(m->year, month);
    }
    return 365 * year + year / 4 - year / 100 + year / 400 + day;
}

static double second_of_day(const struct moment *m)
{
    double fraction = 0, unit = 0.1;
    for (const char *p = m->fraction; *p; p++, unit /= 10) {
        fraction += unit * (*p - '0');
    }
    return 3600 * m->hour + 60 * m->minute + m->second + fraction;
}

double moment_difference_s(const struct moment *a, const struct moment *b)
{
    return 86400.0 * (double)(day_number(a) - day_number(b)) + second_of_day(a) - second_of_day(b);
}

void moment_shift_s(struct moment *m, double seconds)
{
    double total = round((second_of_day(m) + seconds) * 1000) / 1000;
    double days = floor(total / 86400);
    for (double i = 0; i < fabs(days) && i < 40000; i++) {
        move_day(m, days < 0 ? -1 : 1);
    }
    long thousandths = lround((total - 86400 * days) * 1000);
    long whole = thousandths / 1000;
    m->hour = (int)(whole / 3600 % 24);
    m->minute = (int)(whole / 60 % 60);
    m->second = (int)(whole % 60);
    snprintf(m->fraction, sizeof m->fraction, "%03u", (unsigned)thousandths % 1000);
}

void moment_write(char *out, size_t size, const struct moment *m, const char *suffix)
{
    snprintf(out, size, "%04d-%02d-%02dT%02d:%02d:%02d%s%s%s", m->year, m->month, m->day, m->hour,
             m->minute, m->second, m->fraction[0] ? "." : "", m->fraction, suffix);
}
