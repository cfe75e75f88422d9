/* draw/style.h: sizes of all that is drawn, in one place.
 *
 * Sizes count in units: the square root of the picture's area over 1000, so that a picture looks
 * alike at any resolution. */
#ifndef ALIDADE_DRAW_STYLE_H
#define ALIDADE_DRAW_STYLE_H

#define STYLE_FONT "DejaVu Sans" /* letters that it lacks come from other fonts */
#define STYLE_LINE 1.5          /* width of outlines and marks */
#define STYLE_LEADER 0.9        /* of lines from names to marks */
#define STYLE_FIGURE_LINE 1.3   /* of constellation lines */
#define STYLE_THIN_LINE 0.9     /* of grid, borders, ecliptic */
#define STYLE_LEVEL_LINE 0.6    /* of the faintest reach of a nebula */
#define STYLE_RIM 1.2           /* how far the dark rim reaches beyond a line, each side */
#define STYLE_TEXT_RIM 1.9      /* and beyond letters */
#define STYLE_LEAST_LINE_PX 0.7 /* lines are never thinner, in px */
#define STYLE_TEXT 19.5         /* designations */
#define STYLE_SMALL_TEXT 16.5   /* English names, caption */
#define STYLE_TINY_TEXT 15.0    /* grid labels, magnitudes, legend */
#define STYLE_LEAST_TEXT_PX 7.0 /* letters are never smaller; so small in 570 x 380 px */
#define STYLE_MARK 8.0          /* half width of the mark of what is too small for an outline */
#define STYLE_STAR_GAP 6.0      /* from a star of magnitude 5 to the strokes beside it */
#define STYLE_STAR_GLARE 2.0    /* more for each magnitude that it is brighter */
#define STYLE_STAR_STROKE 7.0
#define STYLE_GAP 4.0     /* between marks and names */
#define STYLE_MARGIN 14.0 /* along the edges of the picture */
#define STYLE_ARROW 48.0  /* length of the arrow to the north */

#endif
