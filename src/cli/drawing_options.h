/* cli/drawing_options.h: options of the commands that draw. */
#ifndef ALIDADE_CLI_DRAWING_OPTIONS_H
#define ALIDADE_CLI_DRAWING_OPTIONS_H

#include "base/error.h"
#include "base/options.h"
#include "cli/occasion.h"
#include "draw/layers.h"
#include "draw/other_frame.h"

#include <stdbool.h>
#include <stddef.h>

/* A focal length in mm and the size of a sensor, 0 x 0 for the same one. All zeros: not given. */
struct lens_and_sensor {
    double focal_mm, width_mm, height_mm;
};

/* All zeros: nothing is given. */
struct drawing_settings {
    const char *show, *hide;
    int theme; /* enum theme_kind */
    struct occasion_settings occasion;
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

/* When and where it was, for what is drawn. ERROR_USAGE for a --time that nobody says the zone of.
 */
int drawing_occasion(struct occasion *occasion, const struct frame_facts *facts,
                     const struct rig_place *place, bool place_chosen,
                     const struct drawing_settings *settings, struct error *err);

/* "2026-02-24 19:43:57 UTC"; "" if it is not known. */
void drawing_write_date(char *out, size_t size, const struct occasion *occasion);

/* The layers for a field, less what is hidden, and what is shown. ERROR_USAGE. */
int drawing_layers(layer_set *layers, const struct drawing_settings *settings,
                   double longer_side_deg, struct error *err);

/* The field of a lens and sensor; own_focal_mm is what made a field of own_width x own_height
 * degrees, 0 if unknown. ERROR_USAGE if the same sensor is meant and that is not known. */
int drawing_other_frame(struct other_frame *other, const struct lens_and_sensor *lens,
                        double own_focal_mm, double own_width_deg, double own_height_deg,
                        struct error *err);

#endif
