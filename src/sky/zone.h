/* sky/zone.h: what clocks show in a time zone: offsets from UTC, and when they change. */
#ifndef ALIDADE_SKY_ZONE_H
#define ALIDADE_SKY_ZONE_H

#include "sky/time.h"
#include "sky/zone_rule.h"

enum { ZONE_CHANGES = 400, ZONE_KINDS = 32, ZONE_NAME_SIZE = 64 };

/* All zeros: no zone is known. Holds no memory of its own. */
struct zone {
    char name[ZONE_NAME_SIZE]; /* "Europe/Berlin"; "" of a mere offset */
    int kinds;                 /* 0: no zone */
    struct zone_kind kind[ZONE_KINDS];
    int changes;
    long long at[ZONE_CHANGES];          /* when they come, increasing: seconds since 1970 UTC */
    unsigned char becomes[ZONE_CHANGES]; /* the kind that holds from then on; before all: 0 */
    struct zone_rule rule;               /* after the last of them, if it is given */
};

bool zone_is_known(const struct zone *zone);

/* A clock that is so many minutes ahead of UTC all year. */
void zone_fix(struct zone *zone, double ahead_min);

/* What a clock of the zone, which is known, shows at that time. Borrowed from it. */
const struct zone_kind *zone_at(const struct zone *zone, struct utc utc);

/* How far the clock is ahead of UTC then, in minutes. */
double zone_ahead_min(const struct zone *zone, struct utc utc);

/* How often a clock shows a time. */
enum zone_shows {
    ZONE_ONCE,
    ZONE_TWICE, /* it is put back: the first of the two is taken */
    ZONE_NEVER  /* it is put forward: taken as if it had not been */
};

/* The time at which the clock shows that, which is written as if it were UTC. As Python's datetime
 * has it with fold=0 (PEP 495). For ZONE_ONCE the inverse of adding zone_ahead_min. */
enum zone_shows zone_to_utc(struct utc *utc, const struct zone *zone, struct utc shown);

/* The change of the clock after one time and until another, less than a season later; to the
 * second. False if there is none. */
bool zone_change(struct utc *when, const struct zone *zone, struct utc after, struct utc until);

/* "CET", "UTC+05:45" where the zone has no letters for it. */
void zone_write_word(char *out, size_t size, const struct zone_kind *kind);

/* "CET (UTC+01:00)", "UTC+05:45", "UTC". size 40 is enough. */
void zone_write(char *out, size_t size, const struct zone_kind *kind);

#endif
