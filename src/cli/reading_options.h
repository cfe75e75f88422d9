/* cli/reading_options.h: where pictures are decoded, and what one of them may take. */
#ifndef ALIDADE_CLI_READING_OPTIONS_H
#define ALIDADE_CLI_READING_OPTIONS_H

#include "base/error.h"
#include "base/options.h"
#include "jobs/job_engine.h"

/* All zeros: in a cage, with its usual limits. */
struct reading_settings {
    double memory_mb;
    int seconds;
    bool no_cage;
};

/* The rows of a table of options, for a struct settings with a member reading. */
#define READING_OPTIONS(settings, reading)                                                         \
    {.name = "memory",                                                                             \
     .kind = OPTION_NUMBER,                                                                        \
     .argument = "MB",                                                                             \
     .help = "give up a picture that needs more memory to be read (4000)",                         \
     .store = offsetof(struct settings, reading.memory_mb),                                        \
     .low = 16,                                                                                    \
     .high = 1e6},                                                                                 \
        {.name = "patience",                                                                       \
         .kind = OPTION_INTEGER,                                                                   \
         .argument = "S",                                                                          \
         .help = "give up a picture that takes more seconds of processor time to be read (120)",   \
         .store = offsetof(struct settings, reading.seconds),                                      \
         .low = 1,                                                                                 \
         .high = 86400},                                                                           \
    {                                                                                              \
        .name = "no-cage", .kind = OPTION_FLAG,                                                    \
        .help = "read pictures in this process, without these limits, where the system cannot "    \
                "do it in one that may neither write nor reach a network",                         \
        .store = offsetof(struct settings, reading.no_cage)                                        \
    }

/* Gives the engine its reader of pictures; to be called before there is a second thread.
 * ERROR_INPUT, ERROR_MEMORY. */
int reading_begin(struct job_engine *engine, const struct reading_settings *settings,
                  struct error *err);

#endif
