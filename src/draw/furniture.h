/* draw/furniture.h: what a drawing carries at its edges: caption, arrows, scale bar. */
#ifndef ALIDADE_DRAW_FURNITURE_H
#define ALIDADE_DRAW_FURNITURE_H

#include "draw/canvas.h"
#include "draw/label_box.h"
#include "sky/wcs.h"

#include <stdbool.h>

enum { FURNITURE_PIECES = 3 };

struct furniture {
    const char *title, *facts;   /* first and last line of the caption; may be "" */
    bool caption, arrows, scale; /* which are wanted */
    bool caption_on_top;         /* in the upper left corner, not in the lower left one */
};

/* Caption: the title, then centre, field, scale and the way up, then the facts. Scale bar in the
 * lower right corner. Arrows to the north and the east in the upper right one; they point where
 * north and east are at that place of the picture. What would not fit is left out. The boxes that
 * are drawn on come out in taken, their number is returned. */
int furniture_draw(struct label_box taken[FURNITURE_PIECES], struct canvas *canvas,
                   const struct wcs *wcs, const struct furniture *furniture);

/* Where the caption would go; empty if it is not wanted. */
void furniture_caption_box(struct label_box *box, struct canvas *canvas, const struct wcs *wcs,
                           const struct furniture *furniture);

#endif
