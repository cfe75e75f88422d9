#include "draw/marks.h"

#include "base/units.h"
#include "draw/pen.h"
#include "draw/sky_pen.h"
#include "objects/outline.h"

#include <math.h>

enum { OUTLINE_STEP_DEG = 2, OPENING_DEG = 14 };

/* Corners of a hull are far apart. */
enum { HULL_PARTS = 4 };

static void hull_direction(double v[3], const struct ellipse_plane *plane,
                           const struct outline_line *hull, int step)
{
    const struct outline_point *a = &hull->point[step / HULL_PARTS % hull->count],
                               *b = &hull->point[(step / HULL_PARTS + 1) % hull->count];
    double part = (double)(step % HULL_PARTS) / HULL_PARTS;
    ellipse_plane_direction(v, plane, a->xi + part * (b->xi - a->xi),
                            a->eta + part * (b->eta - a->eta));
}

bool mark_middle(double *x, double *y, const struct wcs *wcs, const struct sky_ellipse *shape)
{
    double left = INFINITY, right = -INFINITY, top = INFINITY, bottom = -INFINITY;
    double rim[ELLIPSE_RIM_MOST][3];
    int points = shape->outline ? ellipse_rim(rim, shape) : 0;
    for (int i = 0; i < points; i++) {
        double rim_x, rim_y;
        if (!wcs_pixel(&rim_x, &rim_y, wcs, rim[i])) {
            return false;
        }
        left = fmin(left, rim_x);
        right = fmax(right, rim_x);
        top = fmin(top, rim_y);
        bottom = fmax(bottom, rim_y);
    }
    *x = points ? (left + right) / 2 : *x;
    *y = points ? (top + bottom) / 2 : *y;
    return points > 0;
}

static bool rim_pixel(double *x, double *y, const struct wcs *wcs, const struct sky_ellipse *shape,
                      int step)
{
    struct ellipse_plane plane;
    double v[3];
    if (shape->outline) {
        ellipse_plane_make(&plane, shape);
        hull_direction(v, &plane, shape->outline->hull, step);
    } else {
        ellipse_direction(v, shape, 1, step * OUTLINE_STEP_DEG);
    }
    return wcs_pixel(x, y, wcs, v);
}

/* How many points stand for the rim of a shape. */
static int rim_steps(const struct sky_ellipse *shape)
{
    return shape->outline ? HULL_PARTS * shape->outline->hull->count : 360 / OUTLINE_STEP_DEG;
}

bool mark_rim(struct mark_rim *rim, const struct wcs *wcs, const struct sky_ellipse *shape,
              double x, double y)
{
    bool visible = false;
    *rim = (struct mark_rim){0};
    for (int step = 0; step < rim_steps(shape); step++) {
        double rim_x, rim_y;
        if (!rim_pixel(&rim_x, &rim_y, wcs, shape, step)) {
            continue;
        }
        double away = hypot(rim_x - x, rim_y - y);
        if (away > rim->farthest) {
            rim->farthest = away;
            rim->turn = atan2(rim_y - y, rim_x - x);
        }
        rim->nearest = rim->nearest > 0 ? fmin(rim->nearest, away) : away;
        visible = visible || wcs_inside(wcs, rim_x, rim_y);
    }
    return visible;
}

/* Openings lie between the four sides. */
static bool is_opening(int angle)
{
    int from_diagonal = (angle + 45) % 90;
    return from_diagonal < OPENING_DEG / 2 || from_diagonal > 90 - OPENING_DEG / 2;
}

static void trace_level(struct canvas *canvas, const struct wcs *wcs,
                        const struct sky_ellipse *shape, int level)
{
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    struct ellipse_plane plane;
    ellipse_plane_make(&plane, shape);
    for (const struct outline_line *line = shape->outline->lines; line; line = line->next) {
        sky_pen_lift(&pen);
        for (int i = 0; line->level == level && i <= line->count; i++) {
            const struct outline_point *at = &line->point[i % line->count];
            double v[3];
            ellipse_plane_direction(v, &plane, at->xi, at->eta);
            sky_pen_to(&pen, v);
        }
    }
}

/* The faintest reach first and thinnest, the brightest part last. */
static void draw_levels(struct canvas *canvas, const struct wcs *wcs,
                        const struct sky_ellipse *shape, bool thin)
{
    static const double width[] = {STYLE_LINE, STYLE_THIN_LINE, STYLE_LEVEL_LINE};
    int brightest = shape->outline->brightest;
    for (int level = 1; level <= brightest; level++) {
        int below = brightest - level, place = below + thin < 2 ? below + thin : 2;
        cairo_new_path(canvas->cairo);
        trace_level(canvas, wcs, shape, level);
        (place < 2 ? pen_stroke : pen_stroke_faint)(canvas, INK_OBJECT, width[place]);
    }
}

void mark_core(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape)
{
    if (shape->outline) {
        cairo_new_path(canvas->cairo);
        trace_level(canvas, wcs, shape, shape->outline->brightest);
        pen_stroke(canvas, INK_OBJECT, STYLE_LINE);
    }
}

void mark_outline(struct canvas *canvas, const struct wcs *wcs, const struct sky_ellipse *shape,
                  struct mark_line line)
{
    if (shape->outline) {
        draw_levels(canvas, wcs, shape, line.thin);
        return;
    }
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    cairo_new_path(canvas->cairo);
    for (int angle = 0; angle <= 360; angle += OUTLINE_STEP_DEG) {
        double v[3];
        if (line.open && is_opening(angle)) {
            sky_pen_lift(&pen);
            continue;
        }
        ellipse_direction(v, shape, 1, angle);
        sky_pen_to(&pen, v);
    }
    pen_dash(canvas, line.dotted ? 5 : 0, 5);
    pen_stroke(canvas, INK_OBJECT, line.thin ? STYLE_THIN_LINE : STYLE_LINE);
    pen_dash(canvas, 0, 0);
}

void mark_ring(struct canvas *canvas, double x, double y, double radius, struct mark_line line)
{
    cairo_new_path(canvas->cairo);
    for (int angle = 0; angle <= 360; angle += OUTLINE_STEP_DEG) {
        double px = x + radius * cos(angle * RAD_PER_DEG),
               py = y + radius * sin(angle * RAD_PER_DEG);
        bool lifted = angle == 0 || (line.open && is_opening(angle));
        (lifted ? cairo_move_to : cairo_line_to)(canvas->cairo, px, py);
    }
    pen_dash(canvas, line.dotted ? 5 : 0, 5);
    pen_stroke(canvas, INK_OBJECT, line.thin ? STYLE_THIN_LINE : STYLE_LINE);
    pen_dash(canvas, 0, 0);
}

static void add_lozenge(struct canvas *canvas, double x, double y, double r)
{
    cairo_move_to(canvas->cairo, x - r, y);
    cairo_line_to(canvas->cairo, x, y - r);
    cairo_line_to(canvas->cairo, x + r, y);
    cairo_line_to(canvas->cairo, x, y + r);
    cairo_close_path(canvas->cairo);
}

/* Four sides that do not meet. */
static void add_parted_lozenge(struct canvas *canvas, double x, double y, double r)
{
    for (int side = 0; side < 4; side++) {
        double across = side % 2 ? -1 : 1, down = side < 2 ? -1 : 1, end = 0.28 * r;
        cairo_move_to(canvas->cairo, x + across * (r - end), y + down * end);
        cairo_line_to(canvas->cairo, x + across * end, y + down * (r - end));
    }
}

/* Pointed at both ends, leaning. */
static void add_lens(struct canvas *canvas, double x, double y, double r)
{
    double dx = 0.92 * r, dy = -0.52 * r, out_x = 0.5 * r, out_y = 0.86 * r;
    cairo_move_to(canvas->cairo, x - dx, y - dy);
    cairo_curve_to(canvas->cairo, x - 0.4 * dx - out_x, y - 0.4 * dy - out_y, x + 0.4 * dx - out_x,
                   y + 0.4 * dy - out_y, x + dx, y + dy);
    cairo_curve_to(canvas->cairo, x + 0.4 * dx + out_x, y + 0.4 * dy + out_y, x - 0.4 * dx + out_x,
                   y - 0.4 * dy + out_y, x - dx, y - dy);
    cairo_close_path(canvas->cairo);
}

static void add_grain(struct canvas *canvas, double x, double y, double r)
{
    cairo_new_sub_path(canvas->cairo);
    cairo_arc(canvas->cairo, x, y, r, 0, 2 * PI);
}

static void add_grains(struct canvas *canvas, double x, double y, double r, int count)
{
    for (int i = 0; i < count; i++) {
        double angle = 2 * PI * i / count - PI / 2;
        add_grain(canvas, x + 0.66 * r * cos(angle), y + 0.66 * r * sin(angle), 0.26 * r);
    }
}

enum mark_shape {
    SHAPE_LOZENGE,
    SHAPE_DOUBLE_LOZENGE,
    SHAPE_PARTED_LOZENGE,
    SHAPE_BARRED_LOZENGE,
    SHAPE_GRAIN_IN_LOZENGE,
    SHAPE_GRAINS,
    SHAPE_TWO_GRAINS,
    SHAPE_LENS,
    SHAPE_LENSES,
};

static const struct {
    enum mark_shape shape;
    const char *word;
} shapes[OBJECT_TYPES] = {
    [OBJECT_STAR] = {SHAPE_LOZENGE, "star"},
    [OBJECT_DOUBLE_STAR] = {SHAPE_TWO_GRAINS, "double star"},
    [OBJECT_ASTERISM] = {SHAPE_GRAINS, "open cluster"},
    [OBJECT_STAR_CLOUD] = {SHAPE_GRAINS, "open cluster"},
    [OBJECT_OPEN_CLUSTER] = {SHAPE_GRAINS, "open cluster"},
    [OBJECT_GLOBULAR_CLUSTER] = {SHAPE_GRAIN_IN_LOZENGE, "globular cluster"},
    [OBJECT_EMISSION_NEBULA] = {SHAPE_LOZENGE, "nebula"},
    [OBJECT_REFLECTION_NEBULA] = {SHAPE_LOZENGE, "nebula"},
    [OBJECT_BRIGHT_NEBULA] = {SHAPE_LOZENGE, "nebula"},
    [OBJECT_STAR_FORMING_REGION] = {SHAPE_LOZENGE, "nebula"},
    [OBJECT_PLANETARY_NEBULA] = {SHAPE_DOUBLE_LOZENGE, "planetary nebula"},
    [OBJECT_SUPERNOVA_REMNANT] = {SHAPE_PARTED_LOZENGE, "supernova remnant"},
    [OBJECT_DARK_NEBULA] = {SHAPE_BARRED_LOZENGE, "dark nebula"},
    [OBJECT_GALAXY] = {SHAPE_LENS, "galaxy"},
    [OBJECT_GALAXY_GROUP] = {SHAPE_LENSES, "galaxy group"},
    [OBJECT_GALAXY_CLUSTER] = {SHAPE_LENSES, "galaxy cluster"},
    [OBJECT_PLANET] = {SHAPE_LOZENGE, "planet"},
    [OBJECT_MOON] = {SHAPE_LOZENGE, "moon"},
};

static void add_shape(struct canvas *canvas, enum mark_shape shape, double x, double y, double r)
{
    switch (shape) {
    case SHAPE_GRAIN_IN_LOZENGE:
    case SHAPE_LOZENGE:
        add_lozenge(canvas, x, y, r);
        break;
    case SHAPE_DOUBLE_LOZENGE:
        add_lozenge(canvas, x, y, r);
        add_lozenge(canvas, x, y, 0.45 * r);
        break;
    case SHAPE_PARTED_LOZENGE:
        add_parted_lozenge(canvas, x, y, r);
        break;
    case SHAPE_BARRED_LOZENGE:
        add_lozenge(canvas, x, y, r);
        cairo_move_to(canvas->cairo, x - 0.45 * r, y);
        cairo_line_to(canvas->cairo, x + 0.45 * r, y);
        break;
    case SHAPE_LENS:
        add_lens(canvas, x, y, r);
        break;
    case SHAPE_LENSES:
        add_lens(canvas, x - 0.35 * r, y - 0.25 * r, 0.75 * r);
        add_lens(canvas, x + 0.35 * r, y + 0.25 * r, 0.75 * r);
        break;
    case SHAPE_GRAINS:
        add_grains(canvas, x, y, r, 3);
        break;
    case SHAPE_TWO_GRAINS:
        add_grains(canvas, x, y, r, 2);
        break;
    }
}

void mark_object(struct canvas *canvas, enum object_type type, double x, double y)
{
    double r = STYLE_MARK * canvas->unit;
    enum mark_shape shape = shapes[type].shape;
    cairo_new_path(canvas->cairo);
    add_shape(canvas, shape, x, y, r);
    if (shape == SHAPE_GRAINS || shape == SHAPE_TWO_GRAINS) {
        pen_fill(canvas, INK_OBJECT);
        return;
    }
    pen_stroke(canvas, INK_OBJECT, STYLE_LINE);
    if (shape == SHAPE_GRAIN_IN_LOZENGE) {
        add_grain(canvas, x, y, 0.3 * r);
        pen_fill(canvas, INK_OBJECT);
    }
}

const char *mark_word(enum object_type type)
{
    return shapes[type].word;
}

static double star_gap(double magnitude)
{
    return STYLE_STAR_GAP + STYLE_STAR_GLARE * fmax(0, 5 - magnitude);
}

double mark_star_reach(const struct canvas *canvas, double magnitude)
{
    return (star_gap(magnitude) + STYLE_STAR_STROKE) * canvas->unit;
}

void mark_star(struct canvas *canvas, double x, double y, double magnitude, bool upright)
{
    double near = star_gap(magnitude) * canvas->unit;
    double far = mark_star_reach(canvas, magnitude);
    double along_x = upright ? 0 : 1, along_y = upright ? 1 : 0;
    cairo_new_path(canvas->cairo);
    for (int side = -1; side <= 1; side += 2) {
        cairo_move_to(canvas->cairo, x + side * far * along_x, y + side * far * along_y);
        cairo_line_to(canvas->cairo, x + side * near * along_x, y + side * near * along_y);
    }
    pen_stroke(canvas, INK_STAR, STYLE_LINE);
}

double mark_star_glare(const struct canvas *canvas, double magnitude)
{
    return star_gap(magnitude) * canvas->unit;
}

double mark_body_reach(const struct canvas *canvas, double radius)
{
    return radius + 0.9 * STYLE_MARK * canvas->unit;
}

/* From the limb towards the light back along the terminator, which is half an ellipse. */
static void add_lit_part(struct canvas *canvas, double x, double y, double radius,
                         const struct mark_light *light)
{
    double c = cos(light->angle), s = sin(light->angle);
    cairo_new_sub_path(canvas->cairo);
    for (int t = 0; t < 360; t += OUTLINE_STEP_DEG) {
        double towards = radius * sin(t * RAD_PER_DEG), across = -radius * cos(t * RAD_PER_DEG);
        towards *= t > 180 ? 2 * light->lit - 1 : 1;
        cairo_line_to(canvas->cairo, x + towards * c - across * s, y + towards * s + across * c);
    }
    cairo_close_path(canvas->cairo);
}

void mark_light(struct canvas *canvas, double x, double y, double radius,
                const struct mark_light *light)
{
    cairo_new_path(canvas->cairo);
    add_lit_part(canvas, x, y, radius, light);
    if (radius < 2 * STYLE_MARK * canvas->unit) {
        pen_fill_faint(canvas, INK_ECLIPTIC);
    } else {
        pen_stroke(canvas, INK_ECLIPTIC, STYLE_LINE);
    }
}

void mark_body(struct canvas *canvas, double x, double y, double radius)
{
    double far = mark_body_reach(canvas, radius), near = radius + 0.2 * STYLE_MARK * canvas->unit;
    cairo_new_path(canvas->cairo);
    add_grain(canvas, x, y, radius);
    for (int side = -1; side <= 1; side += 2) {
        cairo_move_to(canvas->cairo, x, y + side * near);
        cairo_line_to(canvas->cairo, x, y + side * far);
    }
    pen_stroke(canvas, INK_ECLIPTIC, STYLE_LINE);
}
