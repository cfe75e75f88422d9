#include "sky/zone_rule.h"

#include <ctype.h>
#include <erfa.h>
#include <stdio.h>
#include <string.h>

enum { DAY_S = 86400, HOUR_S = 3600, UNIX_EPOCH_MJD = 40587 };

struct reader {
    const char *at, *end;
};

static bool take_mark(struct reader *r, char mark)
{
    if (r->at == r->end || *r->at != mark) {
        return false;
    }
    r->at++;
    return true;
}

static bool take_number(int *value, struct reader *r, int low, int high)
{
    const char *start = r->at;
    *value = 0;
    while (r->at < r->end && isdigit((unsigned char)*r->at) && r->at - start < 4) {
        *value = *value * 10 + (*r->at++ - '0');
    }
    return r->at > start && *value >= low && *value <= high;
}

/* "3", "-1", "5:45:00". */
static bool take_time(int *seconds, struct reader *r, int most_hours)
{
    int hour, minute = 0, second = 0, sign = take_mark(r, '-') ? -1 : 1;
    if (sign > 0) {
        take_mark(r, '+');
    }
    if (!take_number(&hour, r, 0, most_hours) ||
        (take_mark(r, ':') && (!take_number(&minute, r, 0, 59) ||
                               (take_mark(r, ':') && !take_number(&second, r, 0, 59))))) {
        return false;
    }
    *seconds = sign * (hour * HOUR_S + minute * 60 + second);
    return true;
}

bool zone_rule_is_word(const char *word, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (!isalnum((unsigned char)word[i]) && word[i] != '+' && word[i] != '-') {
            return false;
        }
    }
    return length >= 3 && length < ZONE_WORD_SIZE;
}

/* "CET", "<+0545>". */
static bool take_word(char *word, struct reader *r)
{
    bool quoted = take_mark(r, '<');
    const char *start = r->at;
    while (r->at < r->end && (quoted ? *r->at != '>' : isalpha((unsigned char)*r->at))) {
        r->at++;
    }
    size_t length = (size_t)(r->at - start);
    if ((quoted && !take_mark(r, '>')) || !zone_rule_is_word(start, length)) {
        return false;
    }
    snprintf(word, ZONE_WORD_SIZE, "%.*s", (int)length, start);
    return true;
}

/* ",M3.5.0/2" */
static bool take_date(struct zone_date *date, struct reader *r)
{
    bool ok;
    if (!take_mark(r, ',')) {
        return false;
    }
    if (take_mark(r, 'M')) {
        date->form = ZONE_WEEKDAY;
        ok = take_number(&date->month, r, 1, 12) && take_mark(r, '.') &&
             take_number(&date->week, r, 1, 5) && take_mark(r, '.') &&
             take_number(&date->day, r, 0, 6);
    } else if (take_mark(r, 'J')) {
        date->form = ZONE_DAY_OF_365;
        ok = take_number(&date->day, r, 1, 365);
    } else {
        date->form = ZONE_DAY_FROM_0;
        ok = take_number(&date->day, r, 0, 365);
    }
    date->time_s = 2 * HOUR_S;
    return ok && (!take_mark(r, '/') || take_time(&date->time_s, r, 167));
}

static bool take_kind(struct zone_kind *kind, struct reader *r, const int *usual_s)
{
    int behind_s;
    if (!take_word(kind->word, r)) {
        return false;
    }
    if (usual_s && (r->at == r->end || *r->at == ',')) {
        kind->ahead_s = *usual_s;
        return true;
    }
    if (!take_time(&behind_s, r, 24)) {
        return false;
    }
    kind->ahead_s = -behind_s;
    return true;
}

bool zone_rule_read(struct zone_rule *rule, const char *text, size_t length)
{
    struct reader r = {text, text + length};
    memset(rule, 0, sizeof *rule);
    if (!take_kind(&rule->standard, &r, NULL)) {
        return false;
    }
    if (r.at < r.end) {
        const int usual_s = rule->standard.ahead_s + HOUR_S;
        rule->has_summer = rule->summer.summer = true;
        if (!take_kind(&rule->summer, &r, &usual_s) || !take_date(&rule->start, &r) ||
            !take_date(&rule->end, &r) || r.at < r.end) {
            return false;
        }
    }
    rule->given = true;
    return true;
}

/* Days since 1970 of a date. */
static long long day_number(int year, int month, int day)
{
    double mjd0, mjd = 0;
    eraCal2jd(year, month, day, &mjd0, &mjd);
    return (long long)mjd - UNIX_EPOCH_MJD;
}

static int weekday_of(long long day)
{
    return (int)(((day + 4) % 7 + 7) % 7); /* 1 January 1970 was a Thursday */
}

static long long find_day(const struct zone_date *date, int year)
{
    long long new_year = day_number(year, 1, 1), march = day_number(year, 3, 1);
    if (date->form == ZONE_DAY_FROM_0) {
        return new_year + date->day;
    }
    if (date->form == ZONE_DAY_OF_365) {
        bool leap = march - new_year == 60;
        return new_year + date->day - 1 + (leap && date->day >= 60);
    }
    long long first = day_number(year, date->month, 1);
    long long next =
        date->month < 12 ? day_number(year, date->month + 1, 1) : day_number(year + 1, 1, 1);
    long long day = first + (date->day - weekday_of(first) + 7) % 7 + 7 * (date->week - 1);
    return day < next ? day : day - 7;
}

static int year_of(long long unix_s)
{
    int year = 1970, month, day;
    double fraction;
    eraJd2cal(2400000.5 + UNIX_EPOCH_MJD, (double)unix_s / DAY_S, &year, &month, &day, &fraction);
    return year;
}

const struct zone_kind *zone_rule_at(const struct zone_rule *rule, long long unix_s)
{
    const struct zone_kind *kind = &rule->standard;
    long long latest = 0;
    bool any = false;
    if (!rule->has_summer) {
        return kind;
    }
    int year = year_of(unix_s);
    for (int y = year - 1; y <= year + 1; y++) {
        long long start =
            find_day(&rule->start, y) * DAY_S + rule->start.time_s - rule->standard.ahead_s;
        long long end = find_day(&rule->end, y) * DAY_S + rule->end.time_s - rule->summer.ahead_s;
        if (end <= unix_s && (!any || end > latest)) {
            kind = &rule->standard;
            latest = end;
            any = true;
        }
        if (start <= unix_s && (!any || start >= latest)) {
            kind = &rule->summer;
            latest = start;
            any = true;
        }
    }
    return kind;
}
