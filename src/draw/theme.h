/* draw/theme.h: the colours of drawings.
 *
 * What something is shows in its shape first and in its colour only after that; the colours of a
 * theme stay apart in lightness or hue for every kind of colour vision (tests/unit/test_theme.c
 * simulates three). */
#ifndef ALIDADE_DRAW_THEME_H
#define ALIDADE_DRAW_THEME_H

#include <stdbool.h>

struct colour {
    double red, green, blue, alpha; /* 0..1, sRGB */
};

/* What a line or a letter stands for. */
enum ink {
    INK_PLAIN,    /* caption, arrows, scale bar, legend */
    INK_OBJECT,   /* deep-sky objects */
    INK_STAR,     /* stars, their names */
    INK_FIGURE,   /* constellation lines and names */
    INK_BORDER,   /* constellation boundaries */
    INK_GRID,     /* lines of right ascension and declination */
    INK_ECLIPTIC, /* the ecliptic; Sun, Moon and planets */
    INK_FRAME,    /* the frame of another lens or sensor */
    INKS
};

enum theme_kind {
    THEME_NIGHT, /* light lines for pictures and dark charts */
    THEME_RED,   /* nothing but red light, for dark-adapted eyes */
    THEME_PAPER, /* dark lines on white, for printing */
    THEMES
};

struct theme {
    struct colour ink[INKS];
    struct colour rim;      /* around lines, so that they show on any ground */
    struct colour text_rim; /* around letters */
    struct colour sky;      /* the ground of a chart */
    struct colour disc;     /* stars of a chart */
    bool red;               /* pictures lose all but their red light, too */
};

/* Never NULL for a kind below THEMES. */
const struct theme *theme_of(enum theme_kind kind);

#endif
