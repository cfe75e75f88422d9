#include "draw/marks.h"

#include <math.h>

enum { OUTLINE_STEP_DEG = 2, OPENING_DEG = 14 };

static bool rim_pixel(double *x, double *y, const struct wcs *wcs, const struct sky_ellipse *shape,
                      double angle_deg)
{
    double v[3];
    ellipse_direction(v, shape, 1, angle_deg);
    return wcs_pixel(x, y, wcs, v);
}

bool mark_rim(double *radius, const struct wcs *wcs, const struct sky_ellipse *shape, double x,
              double y)
{
    bool visible = false;
    *radius = 0;
    for (int angle = 0; angle < 360; angle += OUTLINE_STEP_DEG) {
        double rim_x, rim_y;
        if (rim_pixel(&rim_x, &rim_y, wcs, shape, angle)) {
            *radius = fmax(*radius, hypot(rim_x - x, rim_y - y));
            visible = visible || wcs_inside(wcs, rim_x, rim_y);
        }
    }
    return visible;
}

/* Openings lie between the four sides. */
static bool is_opening(int angle)
{
    int from_diagonal = (angle + 45) % 90;
    return from_diagonal < OPENING_DEG / 2 || from_diagonal > 90 - OPENING_DEG / 2;
}

/* Far from the picture the projection may run away; nothing is lost by not going there. */
static bool is_near_picture(const struct wcs *wcs, double x, double y)
{
    return x > -2.0 * wcs->width && x < 3.0 * wcs->width && y > -2.0 * wcs->height &&
           y < 3.0 * wcs->height;
}

void mark_outline(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape,
                  struct mark_line line)
{
    bool drawing = false;
    cairo_new_path(canvas->cairo);
    for (int angle = 0; angle <= 360; angle += OUTLINE_STEP_DEG) {
        double x, y;
        bool drawn = rim_pixel(&x, &y, wcs, shape, angle) && is_near_picture(wcs, x, y) &&
                     !(line.open && is_opening(angle));
        if (drawn && drawing) {
            cairo_line_to(canvas->cairo, x, y);
        } else if (drawn) {
            cairo_move_to(canvas->cairo, x, y);
        }
        drawing = drawn;
    }
    double dash[2] = {5 * canvas->unit, 5 * canvas->unit};
    cairo_set_dash(canvas->cairo, dash, line.dotted ? 2 : 0, 0);
    canvas_stroke(canvas, &style_object, STYLE_LINE);
    cairo_set_dash(canvas->cairo, NULL, 0, 0);
}

void mark_lozenge(struct canvas *canvas, double x, double y)
{
    double r = STYLE_MARK * canvas->unit;
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x - r, y);
    cairo_line_to(canvas->cairo, x, y - r);
    cairo_line_to(canvas->cairo, x + r, y);
    cairo_line_to(canvas->cairo, x, y + r);
    cairo_close_path(canvas->cairo);
    canvas_stroke(canvas, &style_object, STYLE_LINE);
}

static double star_gap(double magnitude)
{
    return STYLE_STAR_GAP + STYLE_STAR_GLARE * fmax(0, 5 - magnitude);
}

double mark_star_reach(const struct canvas *canvas, double magnitude)
{
    return (star_gap(magnitude) + STYLE_STAR_STROKE) * canvas->unit;
}

void mark_star(struct canvas *canvas, double x, double y, double magnitude)
{
    double near = star_gap(magnitude) * canvas->unit;
    double far = mark_star_reach(canvas, magnitude);
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x - far, y);
    cairo_line_to(canvas->cairo, x - near, y);
    cairo_move_to(canvas->cairo, x + near, y);
    cairo_line_to(canvas->cairo, x + far, y);
    canvas_stroke(canvas, &style_star, STYLE_LINE);
}
