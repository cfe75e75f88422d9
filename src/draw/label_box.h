/* draw/label_box.h: an upright rectangle in a picture. */
#ifndef ALIDADE_DRAW_LABEL_BOX_H
#define ALIDADE_DRAW_LABEL_BOX_H

#include <stdbool.h>

/* Upper left corner and size; px, x right, y down. */
struct label_box {
    double x, y, width, height;
};

/* Whether two are closer than gap. */
bool label_boxes_touch(const struct label_box *a, const struct label_box *b, double gap);

#endif
