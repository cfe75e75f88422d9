#include "draw/figures_draw.h"

#include "base/units.h"
#include "draw/pen.h"
#include "draw/sky_pen.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Lines keep this far from their stars, in units. */
static const double star_clearance = 9;

/* Obliquity of the ecliptic, J2000 (IAU 2006: 84381.406"). */
static const double obliquity_deg = 84381.406 / 3600;

static double step_deg(const struct wcs *wcs)
{
    return fmax(wcs_radius_deg(wcs) / 60, 0.02);
}

/* Shortens an arc by an angle at both ends; false if nothing is left. */
static bool shorten(double a[3], double b[3], double by_deg)
{
    double angle = vector_angle_deg(a, b), from[3], to[3];
    if (angle <= 3 * by_deg) {
        return false;
    }
    for (int k = 0; k < 3; k++) {
        from[k] = a[k];
        to[k] = b[k];
    }
    double near = sin((angle - by_deg) * RAD_PER_DEG), far = sin(by_deg * RAD_PER_DEG);
    for (int k = 0; k < 3; k++) {
        a[k] = near * from[k] + far * to[k];
        b[k] = near * to[k] + far * from[k];
    }
    vector_normalise(a);
    vector_normalise(b);
    return true;
}

void figures_draw_lines(struct canvas *canvas, const struct wcs *wcs, const struct figures *figures)
{
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    double clear_deg = star_clearance * canvas->unit * wcs_scale_arcsec(wcs) / 3600;
    cairo_new_path(canvas->cairo);
    for (int i = 0; i < figures->lines; i++) {
        const struct figure_line *line = &figures->line[i];
        for (int k = line->first; k + 1 < line->first + line->count; k++) {
            double a[3], b[3];
            memcpy(a, figures->point[k], sizeof a);
            memcpy(b, figures->point[k + 1], sizeof b);
            if (shorten(a, b, clear_deg)) {
                sky_pen_arc(&pen, a, b, step_deg(wcs));
            }
        }
    }
    pen_stroke_faint(canvas, INK_FIGURE, STYLE_FIGURE_LINE);
}

static void draw_dash(const double a[3], const double b[3], void *context)
{
    struct sky_pen *pen = context;
    sky_pen_lift(pen);
    sky_pen_to(pen, a);
    sky_pen_to(pen, b);
}

void figures_draw_borders(struct canvas *canvas, const struct wcs *wcs, const struct place_map *map)
{
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    double ra, dec, centre[3];
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(centre, ra, dec);
    double dash_deg = fmax(7 * canvas->unit * wcs_scale_arcsec(wcs) / 3600, 0.01);
    cairo_new_path(canvas->cairo);
    place_visit_dashes(map, centre, wcs_radius_deg(wcs), dash_deg, draw_dash, &pen);
    pen_stroke_faint(canvas, INK_BORDER, STYLE_THIN_LINE);
}

static void ecliptic_direction(double v[3], double longitude_deg, double latitude_deg)
{
    double along[3], tilt = obliquity_deg * RAD_PER_DEG;
    vector_from_radec(along, longitude_deg, latitude_deg);
    v[0] = along[0];
    v[1] = along[1] * cos(tilt) - along[2] * sin(tilt);
    v[2] = along[1] * sin(tilt) + along[2] * cos(tilt);
}

void figures_draw_ecliptic(struct canvas *canvas, const struct wcs *wcs)
{
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    double tick_deg = 4 * canvas->unit * wcs_scale_arcsec(wcs) / 3600, v[3];
    int steps = (int)fmin(360 / step_deg(wcs), 36000);
    cairo_new_path(canvas->cairo);
    for (int i = 0; i <= steps; i++) {
        ecliptic_direction(v, 360.0 * i / steps, 0);
        sky_pen_to(&pen, v);
    }
    for (int longitude = 0; longitude < 360; longitude += 10) {
        for (int side = -1; side <= 1; side += 2) {
            ecliptic_direction(v, longitude, side * tick_deg);
            side < 0 ? sky_pen_lift(&pen) : (void)0;
            sky_pen_to(&pen, v);
        }
    }
    pen_stroke_faint(canvas, INK_ECLIPTIC, STYLE_THIN_LINE);
}

/* Centres the box beside the line through two points, on its right hand or, side = -1, its left. */
static void set_beside(struct label_box *box, const double from[2], const double to[2], double gap,
                       double side)
{
    double dx = to[0] - from[0], dy = to[1] - from[1], length = fmax(hypot(dx, dy), 1e-9);
    double across_x = -side * dy / length, across_y = side * dx / length;
    double off = gap + fabs(across_x) * box->width / 2 + fabs(across_y) * box->height / 2;
    box->x = from[0] + off * across_x - box->width / 2;
    box->y = from[1] + off * across_y - box->height / 2;
}

static bool is_shown(const struct wcs *wcs, const struct trust *trust, double x, double y)
{
    return wcs_inside(wcs, x, y) && (!trust || trust_holds(trust, x, y));
}

bool figures_name_ecliptic(struct label_box *box, struct canvas *canvas, const struct wcs *wcs,
                           const struct trust *trust, const struct label_space *space)
{
    enum { PLACES = 1440 };
    const struct pen_text text = {"ecliptic", STYLE_TINY_TEXT, false, 0};
    struct label_box trial;
    double nearest = INFINITY, v[3], from[2], to[2];
    pen_measure(canvas, &text, &trial.width, &trial.height);
    for (int i = 0; i < 2 * PLACES; i++) {
        double longitude = 360.0 * (i / 2) / PLACES;
        ecliptic_direction(v, longitude, 0);
        if (!wcs_pixel(&from[0], &from[1], wcs, v) || !is_shown(wcs, trust, from[0], from[1])) {
            continue;
        }
        ecliptic_direction(v, longitude + 0.1, 0);
        if (!wcs_pixel(&to[0], &to[1], wcs, v)) {
            continue;
        }
        set_beside(&trial, from, to, space->gap, i % 2 ? 1 : -1);
        double edge =
            fmin(fmin(from[0], canvas->width - from[0]), fmin(from[1], canvas->height - from[1]));
        if (edge < nearest && label_box_is_free(&trial, space)) {
            nearest = edge;
            *box = trial;
        }
    }
    if (isfinite(nearest)) {
        pen_write(canvas, &text, box->x, box->y, INK_ECLIPTIC);
    }
    return isfinite(nearest);
}

/* Adds what of an arc lies in the picture to the sums. */
static void weigh_arc(double sum[3], const struct wcs *wcs, const struct trust *trust,
                      const double a[3], const double b[3])
{
    enum { PARTS = 16 };
    double last_x = 0, last_y = 0;
    bool was_inside = false;
    for (int i = 0; i <= PARTS; i++) {
        double v[3], x, y, part = (double)i / PARTS;
        for (int k = 0; k < 3; k++) {
            v[k] = a[k] + part * (b[k] - a[k]);
        }
        vector_normalise(v);
        bool inside = wcs_pixel(&x, &y, wcs, v) && is_shown(wcs, trust, x, y);
        bool leaps = projection_is_cylinder(wcs->projection) && fabs(x - last_x) > 0.5 * wcs->width;
        if (inside && was_inside && !leaps) {
            double length = hypot(x - last_x, y - last_y);
            sum[0] += length;
            sum[1] += length * (x + last_x) / 2;
            sum[2] += length * (y + last_y) / 2;
        }
        was_inside = inside;
        last_x = inside ? x : last_x;
        last_y = inside ? y : last_y;
    }
}

/* NULL if a picture of the whole sky bends the constellation around the place, or shows it at both
 * ends. */
static const struct constellation *constellation_at(const struct wcs *wcs,
                                                    const struct atlas *atlas, const char *sign,
                                                    double x, double y)
{
    double v[3], ra, dec;
    wcs_direction(v, wcs, x, y);
    vector_to_radec(&ra, &dec, v);
    if (wcs->projection != PROJECTION_TAN &&
        strcmp(place_constellation(&atlas->map, ra, dec), sign) != 0) {
        return NULL;
    }
    return constellations_find(&atlas->constellations, sign, ra, dec);
}

int figures_names(struct figure_name *name, const struct canvas *canvas, const struct wcs *wcs,
                  const struct trust *trust, const struct atlas *atlas)
{
    const struct figures *figures = &atlas->figures;
    int count = 0;
    for (int i = 0; i < figures->lines;) {
        const char *sign = figures->line[i].constellation;
        double sum[3] = {0, 0, 0};
        for (; i < figures->lines && strcmp(figures->line[i].constellation, sign) == 0; i++) {
            const struct figure_line *line = &figures->line[i];
            for (int k = line->first; k + 1 < line->first + line->count; k++) {
                weigh_arc(sum, wcs, trust, figures->point[k], figures->point[k + 1]);
            }
        }
        if (sum[0] > 60 * canvas->unit && count < CONSTELLATIONS_MAX) {
            struct figure_name made = {NULL, sum[1] / sum[0], sum[2] / sum[0], sum[0]};
            made.constellation = constellation_at(wcs, atlas, sign, made.x, made.y);
            name[count] = made;
            count += made.constellation != NULL;
        }
    }
    return count;
}
