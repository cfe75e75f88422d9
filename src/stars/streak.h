/* stars/streak.h: what crossed the sky while the frame was exposed. */
#ifndef ALIDADE_STARS_STREAK_H
#define ALIDADE_STARS_STREAK_H

#include "base/error.h"
#include "image/frame.h"

/* A satellite's or an aeroplane's line, or a long meteor's: pixels of the displayed picture. */
struct streak {
    double x0, y0, x1, y1; /* x0 <= x1 */
};

enum { STREAKS_MOST = 4 };

/* Starts as all zeros. */
struct streak_list {
    struct streak streak[STREAKS_MOST];
    int count;
};

/* Finds thin, even, straight lines longer than about a tenth of the picture's longer side in the
 * frame's luminance plane. Edges, bands, and lines along a row or column of the sensor do not
 * count; where stars or leaves fill the picture nothing is found. ERROR_MEMORY only. */
int streaks_find(struct streak_list *list, const struct frame *frame, struct error *err);

#endif
