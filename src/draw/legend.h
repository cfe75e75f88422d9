/* draw/legend.h: what the marks of a drawing mean. */
#ifndef ALIDADE_DRAW_LEGEND_H
#define ALIDADE_DRAW_LEGEND_H

#include "draw/items.h"
#include "draw/label_box.h"

/* Explains the kinds of mark in the list and of line in the layers, and no others, in a column with
 * its upper left corner at (x, y). Its box comes out; false if it would not fit into the picture,
 * or has nothing to say. */
bool legend_draw(struct label_box *taken, struct canvas *canvas, const struct item_list *list,
                 layer_set layers, double x, double y);

#endif
