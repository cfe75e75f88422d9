/* plan/season.h: beyond tonight: when it gets dark again, when in the year a target is up in the
 * dark, and the next nights without the Moon.
 *
 * A year is scanned in closed form, from where the Sun and the Moon stand in each night: times are
 * good to about two minutes. The horizon is open: no skyline counts. Dark is the
 * deepest twilight, of those that darkness_find knows and were wanted, that lasts as long as is
 * asked for. */
#ifndef ALIDADE_PLAN_SEASON_H
#define ALIDADE_PLAN_SEASON_H

#include "plan/darkness.h"

#include <stdbool.h>
#include <stddef.h>

/* Of an evening, by the clock at the place. */
struct season_date {
    bool any;
    int year, month, day;
};

enum { SEASON_RUNS = 4, SEASON_NIGHTS = 30 };

/* From one evening to another, both included; of a year, so that from may come after until. */
struct season_run {
    struct season_date from, until;
};

struct season_night {
    struct season_date date;
    double hours; /* in which it is up, it is dark, and the Moon is not up */
};

struct season {
    double least_hours; /* what counts as being up */
    struct season_run run[SEASON_RUNS];
    int runs; /* 0: it never is */
    bool all_year;
    struct season_date next;     /* the first such evening, tonight perhaps; none */
    double moonless_least_hours; /* what is asked of the nights that follow */
    struct season_night moonless[SEASON_NIGHTS];
    int nights;
};

/* The first evening from tonight on with a night in which it gets as dark as was wanted of this
 * one; none within a year. utc_offset_min: of the clock. False if the time is one that ERFA
 * refuses. */
bool season_dark_again(struct season_date *date, const struct darkness *night,
                       double utc_offset_min);

/* What is looked for. */
struct season_wish {
    double ra_deg, dec_deg;    /* ICRS */
    double least_altitude_deg; /* geometric */
    double least_hours;        /* in the dark above that, in one piece */
    double moonless_hours;     /* of these, without the Moon */
    int nights;                /* such nights to find, at most SEASON_NIGHTS */
    double utc_offset_min;
};

/* Nights without the Moon are looked for within 90. False as above. */
bool season_find(struct season *season, const struct darkness *night,
                 const struct season_wish *wish);

#endif
