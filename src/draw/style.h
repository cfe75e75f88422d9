/* draw/style.h: how drawings look, in one place.
 *
 * Sizes count in units: the square root of the picture's area over 1000, so that a picture looks
 * alike at any resolution. What something is shows in its shape as well as in its colour: light
 * warm and light cold on a dark rim stay apart for every kind of colour vision and on any ground.
 */
#ifndef ALIDADE_DRAW_STYLE_H
#define ALIDADE_DRAW_STYLE_H

struct colour {
    double red, green, blue, alpha; /* 0..1 */
};

static const struct colour style_object = {1.0, 0.74, 0.36, 1}; /* amber */
static const struct colour style_star = {0.78, 0.91, 1.0, 1};   /* pale ice */
static const struct colour style_plain = {1.0, 0.95, 0.86, 1};  /* caption, arrows, scale bar */
static const struct colour style_rim = {0.05, 0.03, 0.07, 0.6}; /* around lines */
static const struct colour style_text_rim = {0.05, 0.03, 0.07, 0.75};

#define STYLE_LINE 1.7          /* width of outlines and marks */
#define STYLE_LEADER 1.0        /* width of lines from names to marks */
#define STYLE_RIM 1.6           /* how far the dark rim reaches beyond a line, each side */
#define STYLE_TEXT_RIM 2.2      /* and beyond letters */
#define STYLE_TEXT 20.5         /* designations */
#define STYLE_SMALL_TEXT 16.5   /* English names, caption */
#define STYLE_LEAST_TEXT_PX 8.0 /* letters are never smaller, in px */
#define STYLE_MARK 9.0          /* half width of the mark of what is too small for an outline */
#define STYLE_STAR_GAP 6.0      /* from a star of magnitude 5 to the strokes beside it */
#define STYLE_STAR_GLARE 2.0    /* more for each magnitude that it is brighter */
#define STYLE_STAR_STROKE 9.0
#define STYLE_GAP 4.0     /* between marks and names */
#define STYLE_MARGIN 14.0 /* along the edges of the picture */
#define STYLE_ARROW 52.0  /* length of the arrow to the north */

#endif
