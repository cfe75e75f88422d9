/* jobs/occasion.h: when and where a frame was taken. */
#ifndef ALIDADE_JOBS_OCCASION_H
#define ALIDADE_JOBS_OCCASION_H

#include "image/frame.h"
#include "rig/rig.h"
#include "sky/time.h"
#include "tripod/ground.h"

#include <stdbool.h>

struct occasion_number {
    bool given;
    double value;
};

/* All zeros: nothing is given. */
struct occasion_settings {
    struct time_stamp taken; /* when the exposure began, with or without a zone; not known: as the
                                file says */
    double clock_fast_s;
    struct occasion_number pressure_hpa;
    double temperature_c; /* of the air */
    struct utc today;     /* stands in for a time that nobody knows */
};

/* In air as it usually is. */
#define OCCASION_USUAL                                                                             \
    {                                                                                              \
        .temperature_c = 10                                                                        \
    }

struct occasion {
    bool has_time; /* the start is known on some clock */
    bool has_utc;  /* and how that clock is set: start and mid are UTC; else they are only good
                      among each other */
    struct utc start, mid;
    struct utc today;     /* for a sky without a time */
    double exposure_s;    /* 0: unknown */
    bool has_clock;       /* the camera's own clock is known */
    double clock_ahead_s; /* what it shows is this much ahead of start */
    bool has_zone;        /* it is known what the clock is set to: */
    struct zone_kind zone;
    enum zone_shows shows; /* ZONE_ONCE, unless the time was shown twice that night, or never */
    bool has_place;
    struct place place;
    const struct skyline *skyline; /* there; borrowed; NULL: none is known */
    const char *place_source; /* "as given", "from the settings file", "from the frame's GPS" */
};

/* From the frame's facts, the settings file and what is given; a place that was chosen for this run
 * goes before what the frame's GPS says. */
void occasion_find(struct occasion *occasion, const struct frame_facts *facts,
                   const struct rig *rig, const struct occasion_settings *settings);

/* The same, but a time that was given must be in UTC then: ERROR_USAGE for one that nobody says the
 * zone of. */
int occasion_find_known(struct occasion *occasion, const struct frame_facts *facts,
                        const struct rig *rig, const struct occasion_settings *settings,
                        struct error *err);

/* Whether a horizon is known: the place and the time in UTC. */
bool occasion_has_horizon(const struct occasion *occasion);

/* The ground to stand on: with the place if with_place and the horizon is known. Without a time it
 * is of today's sky. False if ERFA refuses the time. */
bool occasion_ground(struct ground *ground, const struct occasion *occasion, bool with_place);

/* "20:35:12" as the camera's clock will show, or "19:35:12 UTC"; "" if no time is known. */
void occasion_write_clock(char *out, size_t size, const struct occasion *occasion, double later_s);

/* "CET (UTC+01:00)": what occasion_write_clock tells times in; "" if it is not known. */
void occasion_write_zone(char *out, size_t size, const struct occasion *occasion);

/* The same for frames of which none has come yet, by what the settings tell of clocks at that time.
 */
void occasion_write_usual_zone(char *out, size_t size, const struct rig *rig, struct utc today);

/* Which of two times was taken where the clock was put back that night, and what where it was put
 * forward; "" in all other nights. */
void occasion_write_change(char *out, size_t size, const struct occasion *occasion);

/* "2026-02-24 19:43:57 UTC", when the exposure began; "" if it is not known. */
void occasion_write_date(char *out, size_t size, const struct occasion *occasion);

#endif
