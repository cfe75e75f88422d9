/* draw/layers.h: what can be drawn, each on its own switch. */
#ifndef ALIDADE_DRAW_LAYERS_H
#define ALIDADE_DRAW_LAYERS_H

#include "base/error.h"

#include <stdbool.h>

/* The only list of them: ROW(name in the enum, word, from which field on it is drawn unasked and up
 * to which, degrees along the longer side). */
#define LAYER_TABLE(ROW)                                                                           \
    ROW(OBJECTS, "objects", 0, 999)         /* deep-sky objects */                                 \
    ROW(STARS, "stars", 0, 999)             /* names of stars */                                   \
    ROW(MAGNITUDES, "magnitudes", 999, 999) /* of stars that are named, and of objects */          \
    ROW(LINES, "lines", 14, 999)            /* constellation lines and names */                    \
    ROW(BORDERS, "borders", 999, 999)       /* constellation boundaries */                         \
    ROW(GRID, "grid", 999, 999)             /* right ascension and declination */                  \
    ROW(ECLIPTIC, "ecliptic", 25, 999)                                                             \
    ROW(PLANETS, "planets", 0, 999) /* Sun, Moon and planets, when the time is known */            \
    ROW(ARROWS, "arrows", 0, 999)   /* to the north and the east */                                \
    ROW(SCALE, "scale", 0, 999)     /* bar */                                                      \
    ROW(PLAN, "plan", 0, 999)       /* the frame that was planned, and its middle */               \
    ROW(CAPTION, "caption", 0, 999)                                                                \
    ROW(LEGEND, "legend", 999, 999) /* of the marks that are drawn */

#define LAYER_NAME(name, word, narrowest, widest) LAYER_##name,
enum layer { LAYER_TABLE(LAYER_NAME) LAYERS };
#undef LAYER_NAME

/* "objects, stars, ..., or all", for help. */
#define LAYER_WORD(name, word, narrowest, widest) word ", "
#define LAYER_WORDS LAYER_TABLE(LAYER_WORD) "or all"

/* A set holds the bits 1 << layer. */
typedef unsigned layer_set;

bool layers_have(layer_set set, enum layer layer);

/* "grid". */
const char *layer_word(enum layer layer);

/* What helps at a field whose longer side is so many degrees: narrow fields are about objects,
 * wide ones about constellations. */
layer_set layers_for_field(double longer_side_deg);

/* Reads words parted by commas; "all" is every layer. ERROR_USAGE naming the word that is none and
 * all that there are. */
int layers_read(layer_set *set, const char *text, struct error *err);

#endif
