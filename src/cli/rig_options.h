/* cli/rig_options.h: the settings file of bodies, lenses and places, and what is chosen from it. */
#ifndef ALIDADE_CLI_RIG_OPTIONS_H
#define ALIDADE_CLI_RIG_OPTIONS_H

#include "base/options.h"
#include "rig/rig_in_use.h"

#include <stdbool.h>

/* All zeros: nothing is given. */
struct rig_settings {
    const char *file, *body, *camera, *lens, *place, *head, *zone;
    bool may_be_new; /* the file: it will be written */
};

/* Rows of a table of options, for a struct with a member of that type. */
#define RIG_OPTIONS(settings, member)                                                              \
    {.name = "rig",                                                                                \
     .kind = OPTION_TEXT,                                                                          \
     .argument = "FILE",                                                                           \
     .help = "your bodies, lenses and places (ALIDADE_RIG, else rig.ini in "                       \
             "~/.config/alidade)",                                                                 \
     .store = offsetof(struct settings, member.file)},                                             \
        {.name = "body",                                                                           \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "NAME",                                                                       \
         .help = "the body of that name in it",                                                    \
         .store = offsetof(struct settings, member.body)},                                         \
        {.name = "camera",                                                                         \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "MODEL",                                                                      \
         .help = "instead of a body, a camera by its model, as it writes it into its files: the "  \
                 "sensors of hundreds are known",                                                  \
         .store = offsetof(struct settings, member.camera)},                                       \
    {                                                                                              \
        .name = "lens", .kind = OPTION_TEXT, .argument = "NAME",                                   \
        .help = "the lens of that name in it", .store = offsetof(struct settings, member.lens)     \
    }

/* Where, and what clocks show there. */
#define RIG_PLACE_OPTION(settings, member)                                                         \
    {.name = "zone",                                                                               \
     .kind = OPTION_TEXT,                                                                          \
     .argument = "ZONE|+HH:MM",                                                                    \
     .help = "what clocks show: a time zone like Europe/Berlin, or an offset from UTC (what the "  \
             "file says, else the body's or the place's in the settings file)",                    \
     .store = offsetof(struct settings, member.zone)},                                             \
    {                                                                                              \
        .name = "place", .kind = OPTION_TEXT, .argument = "NAME|LAT,LON",                          \
        .help = "where the tripod stands: a place of the settings file, or latitude and "          \
                "longitude, north and east positive: 50.1,10.2",                                   \
        .store = offsetof(struct settings, member.place)                                           \
    }

/* Finds, reads and chooses; zones come from the folder TZDIR, else /usr/share/zoneinfo. Without a
 * settings file nothing is known, unless it was asked for. ERROR_INPUT, ERROR_USAGE. */
int rig_open(struct rig_in_use *use, const struct rig_settings *settings, struct error *err);

/* Name of the settings file, whether it is there or not. ERROR_USAGE if there is no telling. */
int rig_file_name(char *out, size_t size, const char *option, struct error *err);

#endif
