/* cli/hints.h: what the user knows of a frame beforehand; options that several commands share. */
#ifndef ALIDADE_CLI_HINTS_H
#define ALIDADE_CLI_HINTS_H

#include "base/error.h"
#include "base/options.h"
#include "cli/rig_options.h"
#include "image/frame.h"
#include "match/solve.h"
#include "rig/body_table.h"

#include <stdbool.h>

/* A direction that may not have been given. */
struct direction {
    bool given;
    double ra_deg, dec_deg; /* ICRS */
};

/* All zeros: nothing is known. */
struct hint_settings {
    double scale_arcsec, focal_mm, pixel_um; /* 0: not given */
    double tolerance_percent;                /* 0: not given */
    struct direction near;
    double within_deg; /* 0: not given */
    bool strict;
    struct rig_settings rig;
};

/* The rows of a table of options, for a struct with a member hints. */
#define HINT_OPTIONS(settings)                                                                     \
    {.kind = OPTION_HEADING, .help = "What is known beforehand"},                                  \
        {.name = "scale",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "ARCSEC",                                                                     \
         .help = "scale, arcseconds per pixel",                                                    \
         .store = offsetof(struct settings, hints.scale_arcsec),                                   \
         .low = 0.01,                                                                              \
         .high = 3600},                                                                            \
        {.name = "focal",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "MM",                                                                         \
         .help = "focal length (what the file says)",                                              \
         .store = offsetof(struct settings, hints.focal_mm),                                       \
         .low = 0.5,                                                                               \
         .high = 100000},                                                                          \
        {.name = "pixel",                                                                          \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "UM",                                                                         \
         .help = "pitch of the frame's pixels in micrometres (what the file says)",                \
         .store = offsetof(struct settings, hints.pixel_um),                                       \
         .low = 0.1,                                                                               \
         .high = 1000},                                                                            \
        {.name = "tolerance",                                                                      \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "PERCENT",                                                                    \
         .help = "how far the scale may be off (10)",                                              \
         .store = offsetof(struct settings, hints.tolerance_percent),                              \
         .low = 0.1,                                                                               \
         .high = 1000},                                                                            \
        {.name = "near",                                                                           \
         .kind = OPTION_READ,                                                                      \
         .argument = "RA,DEC",                                                                     \
         .help = "roughly where the middle of the frame is: 83.8,-5.4 or 5h35m,-5d24m",            \
         .store = offsetof(struct settings, hints.near),                                           \
         .read = hints_read_direction,                                                             \
         .expected = "a position like 83.8,-5.4 or 5h35m,-5d24m"},                                 \
        {.name = "within",                                                                         \
         .kind = OPTION_NUMBER,                                                                    \
         .argument = "DEG",                                                                        \
         .help = "how far --near may be off (10)",                                                 \
         .store = offsetof(struct settings, hints.within_deg),                                     \
         .low = 0.01,                                                                              \
         .high = 180},                                                                             \
        {.name = "strict",                                                                         \
         .help = "look nowhere else when nothing is found within these bounds",                    \
         .store = offsetof(struct settings, hints.strict)},                                        \
        RIG_OPTIONS(settings, hints.rig)

/* Fills a struct direction. For struct option_row. */
bool hints_read_direction(void *member, const char *text);

/* ERROR_USAGE for hints that contradict or lack each other. */
int hints_check(const struct hint_settings *hints, struct error *err);

/* Where the hints of a frame came from, for a report. */
struct hint_use {
    char scale_words[240];  /* what it rests on; empty: no scale is known */
    const char *near_words; /* where the rough position came from; NULL: none is known */
    bool focal_unused;      /* a focal length was given, but the pixel pitch is not known */
};

/* Puts together what the user, the settings file and the frame say; the first that knows wins. Of
 * the settings file a lens counts if it was chosen by name, if its focal length is near the one
 * that the frame tells, or if the frame tells none; a body if the frame has its size, or is one of
 * its frames resized. bodies are asked where nobody else knows the pixels, and no equivalent focal
 * length of the file's own tells the scale. rig_file and bodies may be NULL. */
void hints_apply(struct solve_options *options, struct hint_use *use, const struct frame *frame,
                 const struct hint_settings *hints, const struct rig_in_use *rig_file,
                 const struct body_table *bodies);

/* The settings file's body that took a frame: the one that was named for this run, else the one
 * that goes by the name that the camera wrote, else the default; NULL if there is none. */
const struct rig_body *hints_body(const struct rig_in_use *use, const struct frame_facts *facts);

#endif
