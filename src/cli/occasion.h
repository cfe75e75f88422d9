/* cli/occasion.h: when and where a frame was taken, from its file, the settings file and options.
 */
#ifndef ALIDADE_CLI_OCCASION_H
#define ALIDADE_CLI_OCCASION_H

#include "base/options.h"
#include "cli/rig_options.h"
#include "image/frame.h"
#include "tripod/ground.h"

#include <stdbool.h>

struct occasion_number {
    bool given;
    double value;
};

/* All zeros: nothing is given. */
struct occasion_settings {
    const char *taken;           /* --time */
    struct occasion_number zone; /* the clock ahead of UTC, minutes */
    double clock_fast_s;
    struct occasion_number pressure_hpa;
    double temperature_c; /* of the air */
};

bool occasion_read_zone(void *member, const char *text);
bool occasion_read_pressure(void *member, const char *text);

/* Rows of a table of options, for a struct with a member of that type: when it was. */
#define OCCASION_CLOCK_OPTIONS(settings, member)                                                   \
    {.name = "zone",                                                                               \
     .kind = OPTION_READ,                                                                          \
     .argument = "+HH:MM",                                                                         \
     .help = "how far the camera's clock is ahead of UTC (what the file says, else the place's "   \
             "utc offset in the settings file)",                                                   \
     .store = offsetof(struct settings, member.zone),                                              \
     .read = occasion_read_zone,                                                                   \
     .expected = "an offset from UTC like +01:00 or -05:30"},                                      \
        {.name = "clock-error",                                                                    \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "S",                                                                          \
         .help = "by how many seconds the camera's clock is fast; negative if it is slow",         \
         .store = offsetof(struct settings, member.clock_fast_s),                                  \
         .low = -86400,                                                                            \
         .high = 86400},                                                                           \
    {                                                                                              \
        .name = "time", .kind = OPTION_TEXT, .argument = "TIME",                                   \
        .help = "when the exposure began, if the file does not say: 2026-02-24T20:30:00+01:00; "   \
                "for one frame",                                                                   \
        .store = offsetof(struct settings, member.taken)                                           \
    }

/* The same and what the air does. */
#define OCCASION_OPTIONS(settings, member)                                                         \
    OCCASION_CLOCK_OPTIONS(settings, member),                                                      \
        {.name = "pressure",                                                                       \
         .kind = OPTION_READ,                                                                      \
         .argument = "HPA",                                                                        \
         .help = "of the air, for refraction; 0 for none (the usual one at the place's height)",   \
         .store = offsetof(struct settings, member.pressure_hpa),                                  \
         .read = occasion_read_pressure,                                                           \
         .expected = "hectopascals, 0 to 1100"},                                                   \
    {                                                                                              \
        .name = "temperature", .kind = OPTION_NUMBER, .argument = "C",                             \
        .help = "of the air, for refraction (10)",                                                 \
        .store = offsetof(struct settings, member.temperature_c), .low = -90, .high = 60           \
    }

/* ERROR_USAGE for a time that cannot be read, or one time for several frames. */
int occasion_check(const struct occasion_settings *settings, int frames, struct error *err);

struct occasion {
    bool has_time; /* the start is known on some clock */
    bool has_utc;  /* and how that clock is set: start and mid are UTC; else they are only good
                      among each other */
    struct utc start, mid;
    double exposure_s;    /* 0: unknown */
    bool has_clock;       /* the camera's own clock is known */
    double clock_ahead_s; /* what it shows is this much ahead of start */
    bool has_place;
    struct place place;
    const char *place_source; /* "as given", "from the settings file", "from the frame's GPS" */
};

/* rig_place may be NULL; place_chosen: it was named on the command line, and so goes before what
 * the frame's GPS says. */
void occasion_find(struct occasion *occasion, const struct frame_facts *facts,
                   const struct rig_place *rig_place, bool place_chosen,
                   const struct occasion_settings *settings);

/* Whether a horizon is known: the place and the time in UTC. */
bool occasion_has_horizon(const struct occasion *occasion);

/* The ground to stand on: with the place if with_place and the horizon is known. Without a time it
 * is of today's sky. False if ERFA refuses the time. */
bool occasion_ground(struct ground *ground, const struct occasion *occasion, bool with_place);

/* "20:35:12" as the camera's clock will show, or "19:35:12 UTC"; "" if no time is known. */
void occasion_write_clock(char *out, size_t size, const struct occasion *occasion, double later_s);

#endif
