/* cli/hint_options.h: options of what is known of a frame beforehand. */
#ifndef ALIDADE_CLI_HINT_OPTIONS_H
#define ALIDADE_CLI_HINT_OPTIONS_H

#include "base/error.h"
#include "base/options.h"
#include "cli/rig_options.h"
#include "jobs/hints.h"

/* The rows of a table of options, for a struct with a member solver: struct solver_settings. */
#define HINT_OPTIONS(settings)                                                                     \
    {.kind = OPTION_HEADING, .help = "What is known beforehand"},                                  \
        {.name = "scale",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "ARCSEC",                                                                     \
         .help = "scale, arcseconds per pixel",                                                    \
         .store = offsetof(struct settings, solver.hints.scale_arcsec),                            \
         .low = 0.01,                                                                              \
         .high = 3600},                                                                            \
        {.name = "focal",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "MM",                                                                         \
         .help = "focal length (what the file says)",                                              \
         .store = offsetof(struct settings, solver.hints.focal_mm),                                \
         .low = 0.5,                                                                               \
         .high = 100000},                                                                          \
        {.name = "pixel",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "UM",                                                                         \
         .help = "pitch of the frame's pixels in micrometres (what the file says)",                \
         .store = offsetof(struct settings, solver.hints.pixel_um),                                \
         .low = 0.1,                                                                               \
         .high = 1000},                                                                            \
        {.name = "tolerance",                                                                      \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "PERCENT",                                                                    \
         .help = "how far the scale may be off (10)",                                              \
         .store = offsetof(struct settings, solver.hints.tolerance_percent),                       \
         .low = 0.1,                                                                               \
         .high = 1000},                                                                            \
        {.name = "near",                                                                           \
         .kind = OPTION_READ,                                                                      \
         .argument = "RA,DEC",                                                                     \
         .help = "roughly where the middle of the frame is: 83.8,-5.4 or 5h35m,-5d24m",            \
         .store = offsetof(struct settings, solver.hints.near),                                    \
         .read = hint_options_read_direction,                                                      \
         .expected = "a position like 83.8,-5.4 or 5h35m,-5d24m"},                                 \
        {.name = "within",                                                                         \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "DEG",                                                                        \
         .help = "how far --near may be off (10)",                                                 \
         .store = offsetof(struct settings, solver.hints.within_deg),                              \
         .low = 0.01,                                                                              \
         .high = 180},                                                                             \
        {.name = "strict",                                                                         \
         .help = "look nowhere else when nothing is found within these bounds",                    \
         .store = offsetof(struct settings, solver.hints.strict)},                                 \
        RIG_OPTIONS(settings, solver.rig)

/* Fills a struct direction. For struct option_row. */
bool hint_options_read_direction(void *member, const char *text);

/* ERROR_USAGE for hints that contradict or lack each other. */
int hint_options_check(const struct hint_settings *hints, struct error *err);

#endif
