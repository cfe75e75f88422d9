/* jobs/drawing_wish.h: what is wanted of a drawing, before it is known what it shows. */
#ifndef ALIDADE_JOBS_DRAWING_WISH_H
#define ALIDADE_JOBS_DRAWING_WISH_H

#include "base/error.h"
#include "draw/layers.h"
#include "draw/other_frame.h"
#include "draw/theme.h"

/* A focal length in mm and the size of a sensor, 0 x 0 for the same one. All zeros: not given. */
struct lens_and_sensor {
    double focal_mm, width_mm, height_mm;
};

/* All zeros: the usual layers, dark. */
struct drawing_wish {
    layer_set show, hide; /* besides the usual ones; of these */
    enum theme_kind theme;
    struct lens_and_sensor other; /* whose frame is drawn too */
};

/* The layers for a field of that longer side, less what is hidden, and what is shown. */
layer_set drawing_wish_layers(const struct drawing_wish *wish, double longer_side_deg);

/* The field of a lens and sensor; own_focal_mm is what made a field of own_width x own_height
 * degrees, 0 if unknown. ERROR_USAGE if the same sensor is meant and that is not known. */
int drawing_wish_frame(struct other_frame *other, const struct lens_and_sensor *lens,
                       double own_focal_mm, double own_width_deg, double own_height_deg,
                       struct error *err);

#endif
