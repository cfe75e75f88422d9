/* draw/layers.h: what can be drawn, each on its own switch. */
#ifndef ALIDADE_DRAW_LAYERS_H
#define ALIDADE_DRAW_LAYERS_H

#include "base/error.h"

#include <stdbool.h>

enum layer {
    LAYER_OBJECTS,    /* deep-sky objects */
    LAYER_STARS,      /* names of stars */
    LAYER_MAGNITUDES, /* of stars that are named, and of objects */
    LAYER_LINES,      /* constellation lines and names */
    LAYER_BORDERS,    /* constellation boundaries */
    LAYER_GRID,       /* right ascension and declination */
    LAYER_ECLIPTIC,
    LAYER_PLANETS, /* Sun, Moon and planets, when the time is known */
    LAYER_ARROWS,  /* to the north and the east */
    LAYER_SCALE,   /* bar */
    LAYER_CAPTION,
    LAYER_LEGEND, /* of the marks that are drawn */
    LAYERS
};

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
