/* plan/night.h: one night at a place: the dark hours, the Moon, and when an object is up. */
#ifndef ALIDADE_PLAN_NIGHT_H
#define ALIDADE_PLAN_NIGHT_H

#include "sky/luminary.h"

#include <stdbool.h>

struct night_span {
    bool any;
    struct utc start, end;
};

double night_span_hours(const struct night_span *span); /* 0 if there is none */

enum night_depth { NIGHT_SUN_UP, NIGHT_SUNSET, NIGHT_CIVIL, NIGHT_NAUTICAL, NIGHT_ASTRONOMICAL };
enum { NIGHT_DEPTHS = 5, NIGHT_MOON_EVENTS = 6 };

/* From one local noon (of the mean Sun) to the next. Holds no memory. */
struct night {
    struct place place;
    struct utc noon, next_noon;
    /* When the Sun is below -0.833, -6, -12, -18 degrees; [NIGHT_SUN_UP] is the whole day. A span
     * that fills the day is one of polar night. */
    struct night_span below[NIGHT_DEPTHS];
    enum night_depth depth; /* the deepest that is reached and asked for */
    struct night_span dark; /* below[depth], or none if that is NIGHT_SUN_UP or NIGHT_SUNSET */
    double sun_lowest_deg;

    double moon_lit; /* share of the disc, in the middle of the night */
    bool moon_waxing;
    bool moon_at_dusk;                                /* above the horizon at the start of dark */
    struct luminary_crossing moon[NIGHT_MOON_EVENTS]; /* rise and set from noon to noon */
    int moon_events;
    double moonless_hours; /* of dark */
};

/* year, month, day: the evening's date as the clock at the place has it; utc_offset_min is how far
 * that clock is ahead of UTC, NAN: as the longitude has it. wanted: no deeper darkness is asked for
 * than this. False for a date that is none or beyond 1800 to 2200. */
bool night_find(struct night *night, const struct place *place, int year, int month, int day,
                double utc_offset_min, enum night_depth wanted);

/* When something that stands still among the stars is up in the dark. */
struct night_window {
    struct night_span span; /* the longest piece of dark in which it is above the altitude */
    struct utc best;        /* when it is highest in it; if there is none, in dark, else at night */
    double best_altitude_deg, best_azimuth_deg; /* then; without refraction */
    double highest_deg, lowest_deg;             /* at that place at any time */
    struct utc transit;                         /* when it is highest, nearest to the best time */
};

/* ICRS degrees. False if the time is one that ERFA refuses. */
bool night_window(struct night_window *window, const struct night *night, double ra_deg,
                  double dec_deg, double least_altitude_deg);

#endif
