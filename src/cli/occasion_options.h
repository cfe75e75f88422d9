/* cli/occasion_options.h: options of when and where a frame was taken. */
#ifndef ALIDADE_CLI_OCCASION_OPTIONS_H
#define ALIDADE_CLI_OCCASION_OPTIONS_H

#include "base/options.h"
#include "jobs/occasion.h"

/* For struct option_row: fills a struct occasion_number. */
bool occasion_options_read_pressure(void *member, const char *text);

/* The same for a struct time_stamp. */
bool occasion_options_read_time(void *member, const char *text);

/* Rows of a table of options, for a struct with a member of that type: when it was. */
#define OCCASION_CLOCK_OPTIONS(settings, member)                                                   \
    {.name = "clock-error",                                                                        \
     .kind = OPTION_NUMBER,                                                                        \
     .argument = "S",                                                                              \
     .help = "seconds the camera's clock is fast; negative if slow",                               \
     .store = offsetof(struct settings, member.clock_fast_s),                                      \
     .low = -86400,                                                                                \
     .high = 86400},                                                                               \
    {                                                                                              \
        .name = "time", .kind = OPTION_READ, .argument = "TIME",                                   \
        .help = "when the exposure began, if the file does not say: 2026-02-24T20:30:00+01:00; "   \
                "for one frame",                                                                   \
        .store = offsetof(struct settings, member.taken), .read = occasion_options_read_time,      \
        .expected = "a time of 1800 to 2200 like 2026-02-24T20:30:00+01:00"                        \
    }

/* The same and what the air does. */
#define OCCASION_OPTIONS(settings, member)                                                         \
    OCCASION_CLOCK_OPTIONS(settings, member),                                                      \
        {.name = "pressure",                                                                       \
         .kind = OPTION_READ,                                                                      \
         .argument = "HPA",                                                                        \
         .help = "of the air, for refraction; 0 for none (the usual one at the place's height)",   \
         .store = offsetof(struct settings, member.pressure_hpa),                                  \
         .read = occasion_options_read_pressure,                                                   \
         .expected = "hectopascals, 0 to 1100"},                                                   \
    {                                                                                              \
        .name = "temperature", .kind = OPTION_NUMBER, .argument = "C",                             \
        .help = "of the air, for refraction (10)",                                                 \
        .store = offsetof(struct settings, member.temperature_c), .low = -90, .high = 60           \
    }

/* ERROR_USAGE for one time of several frames. */
int occasion_options_check(const struct occasion_settings *settings, int frames, struct error *err);

/* The clock of this computer, for occasion_settings. */
struct utc occasion_options_today(void);

#endif
