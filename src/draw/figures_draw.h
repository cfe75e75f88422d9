/* draw/figures_draw.h: constellations: lines between stars, borders, the ecliptic. */
#ifndef ALIDADE_DRAW_FIGURES_DRAW_H
#define ALIDADE_DRAW_FIGURES_DRAW_H

#include "draw/canvas.h"
#include "draw/labels.h"
#include "match/trust.h"
#include "objects/field.h"
#include "sky/wcs.h"

/* Lines between stars, which end short of them. */
void figures_draw_lines(struct canvas *canvas, const struct wcs *wcs,
                        const struct figures *figures);

/* Borders, dashed. */
void figures_draw_borders(struct canvas *canvas, const struct wcs *wcs,
                          const struct place_map *map);

/* The mean ecliptic of J2000, with a tick every ten degrees of longitude. */
void figures_draw_ecliptic(struct canvas *canvas, const struct wcs *wcs);

/* Writes what that line is, beside it where the solution is proven (NULL: everywhere) and it comes
 * nearest to an edge of the picture and there is room. The box comes out; false if the line is not
 * in the picture, or there is no room. */
bool figures_name_ecliptic(struct label_box *box, struct canvas *canvas, const struct wcs *wcs,
                           const struct trust *trust, const struct label_space *space);

/* A place for a constellation's name: the middle of those of its lines that lie in the picture. */
struct figure_name {
    const struct constellation *constellation; /* borrowed */
    double x, y;
    double length_px; /* of its lines in the picture */
};

/* Those of which enough is in the picture where trust proves it (NULL: everywhere), in the atlas's
 * order; returns how many. name takes
 * CONSTELLATIONS_MAX. */
int figures_names(struct figure_name *name, const struct canvas *canvas, const struct wcs *wcs,
                  const struct trust *trust, const struct atlas *atlas);

#endif
