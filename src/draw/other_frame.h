/* draw/other_frame.h: what another lens or sensor would have shown. */
#ifndef ALIDADE_DRAW_OTHER_FRAME_H
#define ALIDADE_DRAW_OTHER_FRAME_H

#include "draw/canvas.h"
#include "draw/labels.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* The frame that another lens or sensor would have given, with the same middle and turn; or one
 * that was meant, which has its own. */
struct other_frame {
    double width_deg, height_deg; /* 0: none */
    char name[60];                /* "300 mm" */
    bool placed; /* its own middle, ICRS, and the position angle of its upper side: */
    double ra_deg, dec_deg, up_deg;
};

/* Draws its edge, as far as that lies in the picture, and of one that is placed a cross at its
 * middle. False if there is no other frame, or if one that is not placed is not smaller than the
 * picture; nothing is drawn then. */
bool other_frame_draw(struct canvas *canvas, const struct wcs *wcs,
                      const struct other_frame *other);

/* Writes its name beside one of its corners. The name's box comes out; false if there is no room,
 * or no such frame. */
bool other_frame_name(struct label_box *name, struct canvas *canvas, const struct wcs *wcs,
                      const struct other_frame *other, const struct label_space *space);

#endif
