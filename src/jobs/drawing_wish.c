#include "jobs/drawing_wish.h"

#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

layer_set drawing_wish_layers(const struct drawing_wish *wish, double longer_side_deg)
{
    return (layers_for_field(longer_side_deg) & ~wish->hide) | wish->show;
}

/* Angle that a length of the sensor covers. */
static double field_deg(double length_mm, double focal_mm)
{
    return 2 * atan(length_mm / 2 / focal_mm) * DEG_PER_RAD;
}

int drawing_wish_frame(struct other_frame *other, const struct lens_and_sensor *lens,
                       double own_focal_mm, double own_width_deg, double own_height_deg,
                       struct error *err)
{
    memset(other, 0, sizeof *other);
    if (lens->focal_mm <= 0) {
        return 0;
    }
    double width_mm = lens->width_mm, height_mm = lens->height_mm;
    if (width_mm <= 0 && own_focal_mm <= 0) {
        error_set(err, ERROR_USAGE,
                  "what %g mm would show is not known: the frame does not say its own focal length",
                  lens->focal_mm);
        return error_remedied(err, ERROR_USAGE, REMEDY_OWN_FOCAL);
    }
    if (width_mm <= 0) {
        width_mm = 2 * own_focal_mm * tan(own_width_deg / 2 * RAD_PER_DEG);
        height_mm = 2 * own_focal_mm * tan(own_height_deg / 2 * RAD_PER_DEG);
        snprintf(other->name, sizeof other->name, "%g mm", lens->focal_mm);
    } else {
        snprintf(other->name, sizeof other->name, "%g mm on %g × %g mm", lens->focal_mm, width_mm,
                 height_mm);
    }
    other->width_deg = field_deg(width_mm, lens->focal_mm);
    other->height_deg = field_deg(height_mm, lens->focal_mm);
    return 0;
}
