/* draw/grid.h: lines of right ascension and declination, with their values at the edges. */
#ifndef ALIDADE_DRAW_GRID_H
#define ALIDADE_DRAW_GRID_H

#include "draw/canvas.h"
#include "draw/labels.h"
#include "match/trust.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* Distance of the lines: round in hours, minutes and seconds of time, and in degrees and minutes of
 * arc, so that about four cross the picture's shorter side. */
struct grid_steps {
    double ra_deg, dec_deg;
};

void grid_choose_steps(struct grid_steps *steps, const struct wcs *wcs);

enum picture_edge { EDGE_BOTTOM, EDGE_LEFT, EDGE_TOP, EDGE_RIGHT };

/* Where a line leaves the picture. */
struct grid_crossing {
    bool is_ra;
    double value_deg; /* of right ascension, 0..360, or declination */
    double x, y;      /* px, on the edge, that is half a pixel beyond the outermost centres */
    enum picture_edge edge;
    double slope; /* sine of the angle between line and edge, 0..1 */
};

enum { GRID_MOST_CROSSINGS = 400 };

/* Finds all crossings with the four edges, to 0.01 px; returns how many, at most
 * GRID_MOST_CROSSINGS. */
int grid_crossings(struct grid_crossing *crossing, const struct wcs *wcs,
                   const struct grid_steps *steps);

/* "5ʰ30ᵐ", "+12°30′": as many parts as the step needs. UTF-8; size 24 is enough. */
void grid_write_value(char *out, size_t size, const struct grid_crossing *crossing,
                      const struct grid_steps *steps);

/* Draws the lines. */
void grid_draw(struct canvas *canvas, const struct wcs *wcs, const struct grid_steps *steps);

/* A value written inside the picture beside its crossing. */
struct grid_label {
    struct grid_crossing at;
    char text[24];
    struct label_box box;
};

/* Chooses one crossing for each line, clear of the taken boxes and of each other, where the
 * solution is proven (NULL: everywhere); returns how many. label takes GRID_MOST_CROSSINGS. */
int grid_place_labels(struct grid_label *label, struct canvas *canvas, const struct wcs *wcs,
                      const struct grid_steps *steps, const struct trust *trust,
                      const struct label_box *taken, int taken_count);

void grid_write_labels(struct canvas *canvas, const struct grid_label *label, int count);

#endif
