/* sky/zone_rule.h: the rule by which a zone changes its clocks each year.
 *
 * The TZ variable of POSIX.1-2017, 8.3, with the hours of -167 to 167 that RFC 8536, 3.3.1 adds:
 * "CET-1CEST,M3.5.0,M10.5.0/3". */
#ifndef ALIDADE_SKY_ZONE_RULE_H
#define ALIDADE_SKY_ZONE_RULE_H

#include <stdbool.h>
#include <stddef.h>

enum { ZONE_WORD_SIZE = 12 };

struct zone_kind {
    int ahead_s; /* of UTC */
    bool summer;
    char word[ZONE_WORD_SIZE]; /* "CEST", "+0545" */
};

/* A day of each year and a time on it. */
struct zone_date {
    enum { ZONE_DAY_OF_365, ZONE_DAY_FROM_0, ZONE_WEEKDAY } form;
    int month, week; /* of ZONE_WEEKDAY: 1..12; 1..5, of which 5 is the last */
    int day;         /* 1..365 without 29 February; 0..365; a weekday 0 (Sunday)..6 */
    int time_s;      /* by the clock until then */
};

struct zone_rule {
    bool given, has_summer;
    struct zone_kind standard, summer;
    struct zone_date start, end; /* of summer time */
};

/* Whether text, length bytes, was understood; *rule is given then. */
bool zone_rule_read(struct zone_rule *rule, const char *text, size_t length);

/* What holds at a time, seconds since 1970 UTC, of the years 1 to 9999. */
const struct zone_kind *zone_rule_at(const struct zone_rule *rule, long long unix_s);

/* Whether a word says what a clock shows: 3 to 11 letters, digits, + and -. */
bool zone_rule_is_word(const char *word, size_t length);

#endif
