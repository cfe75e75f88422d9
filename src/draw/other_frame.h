/* draw/other_frame.h: what another lens or sensor would have shown. */
#ifndef ALIDADE_DRAW_OTHER_FRAME_H
#define ALIDADE_DRAW_OTHER_FRAME_H

#include "draw/canvas.h"
#include "draw/label_box.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* The frame that another lens or sensor would have given, with the same middle and turn. */
struct other_frame {
    double width_deg, height_deg; /* 0: none */
    char name[60];                /* "300 mm" */
};

/* Draws its edge and its name, whose box comes out. False if there is none, or if it is not smaller
 * than the picture; nothing is drawn then. */
bool other_frame_draw(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs,
                      const struct other_frame *other);

#endif
