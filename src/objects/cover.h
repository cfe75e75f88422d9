/* objects/cover.h: how much of an object a frame holds. */
#ifndef ALIDADE_OBJECTS_COVER_H
#define ALIDADE_OBJECTS_COVER_H

#include "match/trust.h"
#include "objects/ellipse.h"
#include "sky/wcs.h"

#include <stdbool.h>

struct cover {
    double share; /* of the object's area that lies in the frame, 0..1; of a point 0 or 1 */
    bool whole;   /* nothing of its rim lies outside */
    bool touched; /* some of it lies in the frame */
};

/* Judged by points: the outline's hull, where it is known, or 72 on the rim, and a grid within.
 * margin_px is kept free along each edge of the picture; it may be negative to judge a larger
 * frame. Parts of the sky that the WCS has no pixel for count as outside. */
void cover_measure(struct cover *cover, const struct wcs *wcs, const struct sky_ellipse *ellipse,
                   double margin_px);

/* Whether that says that it is whole, at a part of the cost. */
bool cover_is_whole(const struct wcs *wcs, const struct sky_ellipse *ellipse, double margin_px);

/* Takes from what was measured, without a margin, what lies where the solution of the picture is
 * not proven: nothing is touched if the object's middle, or where that is not in the picture all of
 * it, lies there. */
void cover_keep_proven(struct cover *cover, const struct wcs *wcs,
                       const struct sky_ellipse *ellipse, const struct trust *trust);

#endif
