#include "image/moment.h"

#include <ctype.h>
#include <erfa.h>
#include <math.h>
#include <string.h>

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

/* Leaves both alone if there are no digits. */
static void read_fraction(double *fraction, int *decimals, const char *text)
{
    int digits = 0, value = 0;
    while (digits < MOMENT_DECIMALS && read_digits(&value, text, digits + 1)) {
        digits++;
    }
    if (digits > 0) {
        read_digits(&value, text, digits);
        *fraction = value / pow(10, digits);
        *decimals = digits;
    }
}

bool moment_read(struct time_stamp *moment, const char *text, const char *fraction)
{
    struct time_stamp read = {.known = true};
    int year, month, day, hour, minute, second;
    double part = 0;
    if (strlen(text) < 19 || !separators_fit(text) || !read_digits(&year, text, 4) ||
        !read_digits(&month, text + 5, 2) || !read_digits(&day, text + 8, 2) ||
        !read_digits(&hour, text + 11, 2) || !read_digits(&minute, text + 14, 2) ||
        !read_digits(&second, text + 17, 2) || year < 1980 || year > 2199 || hour > 23 ||
        minute > 59 || second > 59) {
        return false;
    }
    if (text[19] == '.') {
        read_fraction(&part, &read.decimals, text + 20);
    }
    read_fraction(&part, &read.decimals, fraction ? fraction : "");
    /* A status of 1 says that leap seconds of that year are not known. */
    int status = eraDtf2d("UTC", year, month, day, hour, minute, second + part, &read.utc.day,
                          &read.utc.fraction);
    if (status != 0 && status != 1) {
        return false;
    }
    *moment = read;
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
