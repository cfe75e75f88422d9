/* cli/index_place.h: where the index and the tables of objects are. */
#ifndef ALIDADE_CLI_INDEX_PLACE_H
#define ALIDADE_CLI_INDEX_PLACE_H

#include "base/error.h"
#include "base/options.h"
#include "cli/reading_options.h"

#include <stdbool.h>
#include <stddef.h>

enum { INDEX_NAMES_MOST = 16 };

/* What --index gave, in order; borrowed. All zeros: nothing. */
struct index_names {
    const char *name[INDEX_NAMES_MOST];
    int count;
};

/* For OPTION_READ: one name more. */
bool index_names_read(void *member, const char *text);

/* For a struct with a member solver: struct solver_settings. */
#define PLACE_OPTIONS(settings)                                                                    \
    {.kind = OPTION_HEADING, .help = "Files"},                                                     \
        {.name = "index",                                                                          \
         .kind = OPTION_READ,                                                                      \
         .argument = "FILE",                                                                       \
         .help = "index of stars made by alidade-index, or a folder of indexes; give it several "  \
                 "times to use them together (ALIDADE_INDEX, else the one that came with the "     \
                 "program, and those of the settings file)",                                                                       \
         .read = index_names_read,                                                                 \
         .expected = "at most 16 files and folders",                                               \
         .store = offsetof(struct settings, solver.index)},                                        \
    {                                                                                              \
        .name = "catalogs", .kind = OPTION_TEXT, .argument = "DIR",                                \
        .help = "folder with the tables of objects and constellations (ALIDADE_CATALOGS, else "    \
                "the one that came with the program)",                                             \
        .store = offsetof(struct settings, solver.catalogs)                                        \
    },                                                                                             \
        READING_OPTIONS(settings, solver.reading)

/* Each takes what the option says if it is not NULL, else the environment variable, else the
 * first place that has it: beside the program where it was built, then where it is installed.
 * ERROR_INPUT if there is none. */
int index_place(char *out, size_t size, const char *option, struct error *err);

/* Calls each for every index or folder that is given, else for the one that index_place finds,
 * until one returns something else than 0, which is what comes back. ERROR_INPUT, ERROR_USAGE. */
int index_places(const struct index_names *names,
                 int (*each)(const char *name, void *context, struct error *err), void *context,
                 struct error *err);
int catalogs_place(char *out, size_t size, const char *option, struct error *err);

#endif
