/* cli/drawing_options.h: options of the commands that draw. */
#ifndef ALIDADE_CLI_DRAWING_OPTIONS_H
#define ALIDADE_CLI_DRAWING_OPTIONS_H

#include "base/error.h"
#include "base/options.h"
#include "cli/occasion_options.h"
#include "draw/layers.h"
#include "jobs/drawing_wish.h"

#include <stdbool.h>
#include <stddef.h>

/* All zeros: nothing is given. */
struct drawing_settings {
    const char *show, *hide;
    int theme; /* enum theme_kind */
    struct occasion_settings occasion;
    struct lens_and_sensor other;
};

/* Rows of a table of options, for a struct with a member of that type. */
#define DRAWING_OPTIONS(settings, member)                                                          \
    {.kind = OPTION_HEADING, .help = "What is drawn"},                                             \
        {.name = "show",                                                                           \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "LAYERS",                                                                     \
         .help = "also draw these, separated by commas: " LAYER_WORDS,                             \
         .store = offsetof(struct settings, member.show)},                                         \
        {.name = "hide",                                                                           \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "LAYERS",                                                                     \
         .help = "leave these out; --hide all --show grid draws the grid alone",                   \
         .store = offsetof(struct settings, member.hide)},                                         \
        {.name = "theme",                                                                          \
         .kind = OPTION_CHOICE,                                                                    \
         .argument = "night|red|paper",                                                            \
         .help = "colours: for pictures and dark charts (night), nothing but red for "             \
                 "dark-adapted eyes (red), for printing on white (paper)",                         \
         .store = offsetof(struct settings, member.theme)},                                        \
        {.name = "frame-of",                                                                       \
         .kind = OPTION_READ,                                                                      \
         .argument = "MM[,WxH]",                                                                   \
         .help = "also draw the frame of a lens of that focal length, on the same sensor or on "   \
                 "one of W x H mm: 300 or 300,36x24",                                              \
         .store = offsetof(struct settings, member.other),                                         \
         .read = drawing_read_lens,                                                                \
         .expected = "a focal length like 300, or with a sensor, 300,36x24"},                      \
        {.kind = OPTION_HEADING, .help = "Where and when, for the Sun, the Moon and the planets"}, \
        OCCASION_CLOCK_OPTIONS(settings, member.occasion)

/* For struct option_row: fills a struct lens_and_sensor. */
bool drawing_read_lens(void *member, const char *text);

/* What is asked for, with the layers read. ERROR_USAGE for a layer that there is not. */
int drawing_options_read(struct drawing_wish *wish, const struct drawing_settings *settings,
                         struct error *err);

#endif
