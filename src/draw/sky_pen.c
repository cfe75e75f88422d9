#include "draw/sky_pen.h"

#include "sky/vector.h"

#include <math.h>

void sky_pen_lift(struct sky_pen *pen)
{
    pen->down = false;
}

/* Far from the picture the projection may run away; nothing is lost by not going there. */
static bool is_near_picture(const struct wcs *wcs, double x, double y)
{
    return x > -2.0 * wcs->width && x < 3.0 * wcs->width && y > -2.0 * wcs->height &&
           y < 3.0 * wcs->height;
}

/* From one end of a panorama to the other, where it goes all around. */
static bool leaps(const struct sky_pen *pen, double x)
{
    return projection_is_cylinder(pen->wcs->projection) && fabs(x - pen->x) > 0.5 * pen->wcs->width;
}

void sky_pen_to(struct sky_pen *pen, const double v[3])
{
    double x, y;
    if (!wcs_pixel(&x, &y, pen->wcs, v) || !is_near_picture(pen->wcs, x, y)) {
        pen->down = false;
        return;
    }
    if (pen->down && !leaps(pen, x)) {
        cairo_line_to(pen->canvas->cairo, x, y);
    } else {
        cairo_move_to(pen->canvas->cairo, x, y);
    }
    pen->down = true;
    pen->x = x;
    pen->y = y;
}

void sky_pen_to_radec(struct sky_pen *pen, double ra_deg, double dec_deg)
{
    double v[3];
    vector_from_radec(v, ra_deg, dec_deg);
    sky_pen_to(pen, v);
}

void sky_pen_arc(struct sky_pen *pen, const double a[3], const double b[3], double step_deg)
{
    int steps = 1 + (int)(vector_angle_deg(a, b) / step_deg);
    sky_pen_lift(pen);
    for (int i = 0; i <= steps; i++) {
        double part = (double)i / steps, v[3];
        for (int k = 0; k < 3; k++) {
            v[k] = a[k] + part * (b[k] - a[k]); /* its direction stays on the great circle */
        }
        sky_pen_to(pen, v);
    }
}
