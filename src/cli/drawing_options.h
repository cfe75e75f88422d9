/* cli/drawing_options.h: options of the commands that draw. */
#ifndef ALIDADE_CLI_DRAWING_OPTIONS_H
#define ALIDADE_CLI_DRAWING_OPTIONS_H

#include "base/error.h"
#include "base/options.h"
#include "draw/layers.h"
#include "draw/other_frame.h"
#include "sky/time.h"

#include <stdbool.h>
#include <stddef.h>

/* A focal length in mm and the size of a sensor, 0 x 0 for the same one. All zeros: not given. */
struct lens_and_sensor {
    double focal_mm, width_mm, height_mm;
};

/* A moment that may not have been given. */
struct given_time {
    bool given;
    struct utc utc;
};

/* All zeros: nothing is given. */
struct drawing_settings {
    const char *show, *hide;
    int theme; /* enum theme_kind */
    struct given_time time;
    struct lens_and_sensor other;
};

#define DRAWING_LAYERS_HELP                                                                        \
    "objects, stars, magnitudes, lines, borders, grid, ecliptic, planets, arrows, scale, "         \
    "caption, legend, or all"

/* Rows of a table of options, for a struct with a member of that type. */
#define DRAWING_OPTIONS(settings, member)                                                          \
    {.kind = OPTION_HEADING, .help = "What is drawn"},                                             \
        {.name = "show",                                                                           \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "LAYERS",                                                                     \
         .help = "also draw these, parted by commas: " DRAWING_LAYERS_HELP,                        \
         .store = offsetof(struct settings, member.show)},                                         \
        {.name = "hide",                                                                           \
         .kind = OPTION_TEXT,                                                                      \
         .argument = "LAYERS",                                                                     \
         .help = "leave these out; --hide all --show grid draws the grid alone",                   \
         .store = offsetof(struct settings, member.hide)},                                         \
        {.name = "theme",                                                                          \
         .kind = OPTION_CHOICE,                                                                    \
         .argument = "night|red|paper",                                                            \
         .help = "colours: for pictures and dark charts (night), nothing but red for eyes that "   \
                 "are used to the dark (red), for printing on white (paper)",                      \
         .store = offsetof(struct settings, member.theme)},                                        \
        {.name = "time",                                                                           \
         .kind = OPTION_READ,                                                                      \
         .argument = "TIME",                                                                       \
         .help = "when, for the Sun, the Moon and the planets: 2026-02-24T20:30Z or with "         \
                 "+01:00 (what the frame says)",                                                   \
         .store = offsetof(struct settings, member.time),                                          \
         .read = drawing_read_time,                                                                \
         .expected = "a time like 2026-02-24T20:30Z"},                                             \
    {                                                                                              \
        .name = "frame-of", .kind = OPTION_READ, .argument = "MM[,WxH]",                           \
        .help = "also draw the frame of a lens of that focal length, on the same sensor or on "    \
                "one of W x H mm: 300 or 300,36x24",                                               \
        .store = offsetof(struct settings, member.other), .read = drawing_read_lens,               \
        .expected = "a focal length like 300, or with a sensor, 300,36x24"                         \
    }

/* For struct option_row: fill a struct given_time and a struct lens_and_sensor. */
bool drawing_read_time(void *member, const char *text);
bool drawing_read_lens(void *member, const char *text);

/* The layers for a field, less what is hidden, and what is shown. ERROR_USAGE. */
int drawing_layers(layer_set *layers, const struct drawing_settings *settings,
                   double longer_side_deg, struct error *err);

/* The field of a lens and sensor; own_focal_mm is what made a field of own_width x own_height
 * degrees, 0 if unknown. ERROR_USAGE if the same sensor is meant and that is not known. */
int drawing_other_frame(struct other_frame *other, const struct lens_and_sensor *lens,
                        double own_focal_mm, double own_width_deg, double own_height_deg,
                        struct error *err);

#endif
