/* plan/darkness.h: one night at a place: the dark hours, the Moon, and when an object is up. */
#ifndef ALIDADE_PLAN_DARKNESS_H
#define ALIDADE_PLAN_DARKNESS_H

#include "sky/skyline.h"
#include "sky/sun_moon.h"

#include <stdbool.h>

struct dark_span {
    bool any;
    struct utc start, end;
};

double dark_span_hours(const struct dark_span *span); /* 0 if there is none */

enum darkness_depth {
    DARKNESS_NONE,
    DARKNESS_SUNSET,
    DARKNESS_CIVIL,
    DARKNESS_NAUTICAL,
    DARKNESS_ASTRONOMICAL
};
enum { DARKNESS_DEPTHS = 5, DARKNESS_MOON_EVENTS = 6 };

/* From one local noon (of the mean Sun) to the next. Holds no memory. */
struct darkness {
    struct place place;
    const struct skyline *skyline; /* of the place; borrowed, set by the caller; NULL: open */
    struct utc noon, next_noon;
    /* When the Sun is below -0.833, -6, -12, -18 degrees; [DARKNESS_NONE] is the whole day. A span
     * that fills the day is one of polar night. */
    struct dark_span below[DARKNESS_DEPTHS];
    enum darkness_depth wanted; /* as asked for, */
    enum darkness_depth depth;  /* and the deepest of these that is reached */
    struct dark_span dark; /* below[depth], or none if that is DARKNESS_NONE or DARKNESS_SUNSET; of
                              own hours the part in them */
    struct dark_span own;  /* hours that were asked for: see darkness_limit */
    double sun_lowest_deg;

    double moon_lit; /* share of the disc, in the middle of the night */
    bool moon_waxing;
    bool moon_at_dusk; /* above the horizon at the start of dark */
    struct sun_moon_crossing moon[DARKNESS_MOON_EVENTS]; /* rise and set from noon to noon */
    int moon_events;
    double moonless_hours; /* of dark */
};

/* year, month, day: the evening's date as the clock at the place has it; utc_offset_min is how far
 * that clock is ahead of UTC, NAN: as the longitude has it. wanted: no deeper darkness is asked for
 * than this. False for a date that is none or beyond 1800 to 2200. */
bool darkness_find(struct darkness *night, const struct place *place, int year, int month, int day,
                   double utc_offset_min, enum darkness_depth wanted);

/* The dark of the whole night, own hours or not. */
const struct dark_span *darkness_whole(const struct darkness *night);

/* Leaves of the dark what lies in these hours, perhaps nothing, and counts anew what of it is
 * without the Moon. False if the time is one that ERFA refuses. */
bool darkness_limit(struct darkness *night, const struct dark_span *hours);

/* When something that stands still among the stars is up in the dark. */
struct dark_window {
    /* The longest piece of dark in which it is above the altitude, and the skyline. */
    struct dark_span span;
    bool from_behind, goes_behind; /* the skyline is why that begins, and ends */
    bool behind;                   /* it is why there is none */
    struct utc best; /* when it is highest in it; if there is none, in dark, else at night */
    double best_altitude_deg, best_azimuth_deg; /* then; without refraction */
    double highest_deg, lowest_deg;             /* at that place at any time */
    struct utc transit;                         /* when it is highest, nearest to the best time */
};

/* ICRS degrees. False if the time is one that ERFA refuses. */
bool dark_window(struct dark_window *window, const struct darkness *night, double ra_deg,
                 double dec_deg, double least_altitude_deg);

#endif
