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

struct plan_evening {
    struct plan_date date; /* of the evening; not given: the one that the clock is in now, or comes
                              to next: until noon the one before */
    struct utc now;        /* for that */
    double own_offset_min; /* how far the clock of whoever asks is ahead of UTC: times are told in
                              it if the settings file has no zone and the longitude allows it, else
                              as the longitude has it */
    enum darkness_depth darkness; /* no deeper one is asked for; at least DARKNESS_CIVIL */
};

/* *offset_min: of the clock that times are told in, ahead of UTC that evening. ERROR_USAGE without
 * a place, or for a night that cannot be computed. */
int plan_evening_find(struct darkness *night, double *offset_min,
                      const struct plan_evening *evening, const struct rig *rig, struct error *err);

/* "A garden (50.10° N, 10.20° E)"; UTF-8, cut to size. */
void plan_evening_write_place(char *out, size_t size, const struct rig_place *place);

#endif
