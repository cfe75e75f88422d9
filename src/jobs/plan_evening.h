/* jobs/plan_evening.h: the night that a plan is made for. */
#ifndef ALIDADE_JOBS_PLAN_EVENING_H
#define ALIDADE_JOBS_PLAN_EVENING_H

#include "base/error.h"
#include "plan/darkness.h"
#include "rig/rig.h"

#include <stdbool.h>
#include <stddef.h>

/* A date that may not have been given. */
struct plan_date {
    bool given;
    int year, month, day;
};

/* A time of the clock that may not have been given. */
struct plan_clock {
    bool given, now;   /* now: plan_evening.now */
    double minutes;    /* else after midnight, 0..1440, */
    bool has_offset;   /* of a clock so far ahead of UTC: */
    double offset_min; /* without, of the clock that times are told in */
};

/* "22:30", "22:30Z", "22:30+01:00", "now". False for anything else. */
bool plan_clock_read(struct plan_clock *clock, const char *text);

struct plan_evening {
    struct plan_date date; /* of the evening; not given: the one that the clock is in now, or comes
                              to next: until noon the one before */
    struct utc now;        /* for that */
    double own_offset_min; /* how far the clock of whoever asks is ahead of UTC: times are told in
                              it if the settings file has no zone and the longitude allows it, else
                              as the longitude has it */
    enum darkness_depth darkness;  /* no deeper one is asked for; at least DARKNESS_CIVIL */
    struct plan_clock from, until; /* own hours */
};

/* Of a night that has begun, what is left of it, unless a date or from is given; after its dark the
 * next one.
 * *offset_min: of the clock that times are told in, ahead of UTC that evening. ERROR_USAGE without
 * a place, for a night that cannot be computed, or for hours that are none. */
int plan_evening_find(struct darkness *night, double *offset_min,
                      const struct plan_evening *evening, const struct rig *rig, struct error *err);

/* "A garden (50.10° N, 10.20° E)"; UTF-8, cut to size. */
void plan_evening_write_place(char *out, size_t size, const struct rig_place *place);

#endif
