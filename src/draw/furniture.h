/* draw/furniture.h: what a drawing carries at its edges: caption, arrows, scale bar. */
#ifndef ALIDADE_DRAW_FURNITURE_H
#define ALIDADE_DRAW_FURNITURE_H

#include "draw/canvas.h"
#include "draw/labels.h"
#include "sky/wcs.h"

enum { FURNITURE_PIECES = 3 };

/* Caption in the lower or the upper left corner: title (may be ""), below it centre, field and
 * scale. Scale bar in the lower right one. Arrows to the north and the east in the upper right one;
 * they point where north and east are at that place of the picture. What would not fit is left out.
 * The boxes that are drawn on come out in taken, their number is returned. */
int furniture_draw(struct label_box taken[FURNITURE_PIECES], struct canvas *canvas,
                   const struct wcs *wcs, const char *title, bool caption_on_top);

#endif
