/* draw/finder.h: a chart of the way from a bright star to a target, as the sky looks from there. */
#ifndef ALIDADE_DRAW_FINDER_H
#define ALIDADE_DRAW_FINDER_H

#include "draw/page.h"
#include "objects/figures.h"
#include "plan/plan_words.h"

/* A box on the page, points. */
struct finder_box {
    double x, y, width, height;
};

/* Draws the sky when the item begins with the horizon down: stars, the stops of the approach
 * numbered, the lens's frame to scale and turned as the camera is held, the objects in it. figures
 * may be NULL. The caption below the box is the caller's. */
void finder_draw(struct page *page, const struct finder_box *box, const struct plan_sheet *sheet,
                 const struct figures *figures);

#endif
