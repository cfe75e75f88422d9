/* cli/run_options.h: options of the commands that take many frames. */
#ifndef ALIDADE_CLI_RUN_OPTIONS_H
#define ALIDADE_CLI_RUN_OPTIONS_H

#include "base/options.h"

#include <stddef.h>

/* For a struct with bool json, verbose and int threads. */
#define RUN_OPTIONS(settings)                                                                      \
    {.name = "json",                                                                               \
     .help = "print one JSON object per frame, one per line",                                      \
     .store = offsetof(struct settings, json)},                                                    \
        {.name = "verbose",                                                                        \
         .letter = 'v',                                                                            \
         .help = "also show hints, search and timings",                                            \
         .store = offsetof(struct settings, verbose)},                                             \
    {                                                                                              \
        .name = "threads", .kind = OPTION_INTEGER, .argument = "N",                                \
        .help = "work on N frames at a time (one per processor)",                                  \
        .store = offsetof(struct settings, threads), .low = 1, .high = 256                         \
    }

#endif
