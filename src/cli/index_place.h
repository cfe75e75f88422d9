/* cli/index_place.h: where the index and the tables of objects are. */
#ifndef ALIDADE_CLI_INDEX_PLACE_H
#define ALIDADE_CLI_INDEX_PLACE_H

#include "base/error.h"
#include "base/options.h"

#include <stddef.h>

/* For a struct with a member solver: struct solver_settings. */
#define PLACE_OPTIONS(settings)                                                                    \
    {.kind = OPTION_HEADING, .help = "Files"},                                                     \
        {.name = "index",                                                                          \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "FILE",                                                                       \
         .help = "index of stars made by alidade-index (ALIDADE_INDEX, else the one that came "    \
                 "with the program)",                                                              \
         .store = offsetof(struct settings, solver.index)},                                        \
    {                                                                                              \
        .name = "catalogs", .kind = OPTION_TEXT, .argument = "DIR",                                \
        .help = "folder with the tables of objects and constellations (ALIDADE_CATALOGS, else "    \
                "the one that came with the program)",                                             \
        .store = offsetof(struct settings, solver.catalogs)                                        \
    }

/* Each takes what the option says if it is not NULL, else the environment variable, else the
 * first place that has it: beside the program where it was built, then where it is installed.
 * ERROR_INPUT if there is none. */
int index_place(char *out, size_t size, const char *option, struct error *err);
int catalogs_place(char *out, size_t size, const char *option, struct error *err);

#endif
