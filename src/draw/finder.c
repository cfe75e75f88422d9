#include "draw/finder.h"

#include "base/units.h"
#include "objects/caption.h"
#include "sky/vector.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_LABELS = 60 };

static const double label_size = 8.5, margin_pt = 26;

/* A view of the sky in a box: stereographic, so that shapes stay what they are. */
struct chart {
    struct page *page;
    const struct finder_box *box;
    const struct plan_sheet *sheet;
    struct horizon horizon; /* when the session begins */
    double ahead[3], right[3], up[3];
    double scale; /* points a unit of the plane */
    double x, y;  /* point on the page of the plane's origin */
    double faintest;
    struct finder_box taken[MOST_LABELS]; /* by names and marks */
    int takens;
};

/* False behind the observer. In the plane: y up. */
static bool project(double *x, double *y, const struct chart *chart, const double v[3])
{
    double depth = 1 + vector_dot(v, chart->ahead);
    if (depth < 0.3) {
        return false;
    }
    *x = 2 * vector_dot(v, chart->right) / depth;
    *y = 2 * vector_dot(v, chart->up) / depth;
    return true;
}

static bool place(double *x, double *y, const struct chart *chart, const double v[3])
{
    double plane_x, plane_y;
    if (!project(&plane_x, &plane_y, chart, v)) {
        return false;
    }
    *x = chart->x + plane_x * chart->scale;
    *y = chart->y - plane_y * chart->scale;
    return true;
}

static void set_axes(double ahead[3], double right[3], double up[3], double ra_deg, double dec_deg,
                     double up_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG, turn = up_deg * RAD_PER_DEG;
    double east[3] = {-sin(ra), cos(ra), 0};
    double north[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    vector_from_radec(ahead, ra_deg, dec_deg);
    for (int i = 0; i < 3; i++) {
        up[i] = cos(turn) * north[i] + sin(turn) * east[i];
        right[i] = sin(turn) * north[i] - cos(turn) * east[i];
    }
}

/* Direction of a corner of the frame, or of a point along its edges: right and up are -1..1. */
static void frame_point(double v[3], const struct plan_sheet *sheet, double right_part,
                        double up_part)
{
    const struct plan_camera *camera = &sheet->settings->camera;
    const struct group_fit *fit = &sheet->item->fit;
    double ahead[3], right[3], up[3];
    set_axes(ahead, right, up, fit->ra_deg, fit->dec_deg, fit->up_deg);
    double x = right_part * camera->width_mm / 2 / camera->focal_mm;
    double y = up_part * camera->height_mm / 2 / camera->focal_mm;
    for (int i = 0; i < 3; i++) {
        v[i] = ahead[i] + x * right[i] + y * up[i];
    }
    vector_normalise(v);
}

static void stop_direction(double v[3], const struct plan_sheet *sheet, int i)
{
    const struct approach_stop *stop = &sheet->approach->stop[i];
    const struct group_fit *fit = &sheet->item->fit;
    vector_from_radec(v, stop->star ? stop->star->ra_deg : fit->ra_deg,
                      stop->star ? stop->star->dec_deg : fit->dec_deg);
}

struct extent {
    double left, right, bottom, top;
};

static void widen(struct extent *extent, const struct chart *chart, const double v[3])
{
    double x, y;
    if (project(&x, &y, chart, v)) {
        extent->left = fmin(extent->left, x);
        extent->right = fmax(extent->right, x);
        extent->bottom = fmin(extent->bottom, y);
        extent->top = fmax(extent->top, y);
    }
}

/* What must be seen: the frame and all stops. */
static struct extent measure_extent(const struct chart *chart)
{
    struct extent extent = {INFINITY, -INFINITY, INFINITY, -INFINITY};
    double v[3];
    for (int corner = 0; corner < 4; corner++) {
        frame_point(v, chart->sheet, corner & 1 ? 1 : -1, corner & 2 ? 1 : -1);
        widen(&extent, chart, v);
    }
    for (int i = 0; i < chart->sheet->approach->stops; i++) {
        stop_direction(v, chart->sheet, i);
        widen(&extent, chart, v);
    }
    return extent;
}

/* Looks at the middle of all that must be seen, the zenith up, as large as the box allows but not
 * without surroundings. */
static void chart_make(struct chart *chart)
{
    const struct plan_sheet *sheet = chart->sheet;
    const struct group_fit *fit = &sheet->item->fit;
    const struct finder_box *box = chart->box;
    double ra = fit->ra_deg, dec = fit->dec_deg;
    struct extent extent = {0, 0, 0, 0};
    for (int round = 0; round < 3; round++) {
        double zenith = horizon_zenith(&chart->horizon, ra, dec);
        set_axes(chart->ahead, chart->right, chart->up, ra, dec, zenith);
        extent = measure_extent(chart);
        double v[3], x = (extent.left + extent.right) / 2, y = (extent.bottom + extent.top) / 2;
        for (int i = 0; i < 3; i++) {
            v[i] = chart->ahead[i] + x * chart->right[i] + y * chart->up[i];
        }
        vector_to_radec(&ra, &dec, v);
    }
    double least = 2.2 * sheet->settings->camera.width_mm / sheet->settings->camera.focal_mm;
    double across = fmax(extent.right - extent.left, least);
    double along = fmax(extent.top - extent.bottom, least * box->height / box->width);
    chart->scale =
        fmin((box->width - 2 * margin_pt) / across, (box->height - 2 * margin_pt) / along);
    chart->x = box->x + box->width / 2 - (extent.left + extent.right) / 2 * chart->scale;
    chart->y = box->y + box->height / 2 + (extent.bottom + extent.top) / 2 * chart->scale;
    double width_deg = box->width / chart->scale * DEG_PER_RAD;
    chart->faintest = fmin(6.5, fmax(4, 7.4 - width_deg / 14));
}

static double star_radius(const struct chart *chart, double magnitude)
{
    return 0.55 + 0.62 * fmax(0, chart->faintest - fmax(magnitude, 0));
}

static bool is_in(const struct finder_box *box, double x, double y, double rim)
{
    return x > box->x + rim && y > box->y + rim && x < box->x + box->width - rim &&
           y < box->y + box->height - rim;
}

static void disc(struct chart *chart, double x, double y, double radius)
{
    cairo_new_sub_path(chart->page->cairo);
    cairo_arc(chart->page->cairo, x, y, radius, 0, 2 * PI);
}

static void draw_stars(struct chart *chart)
{
    const struct objects *objects = chart->sheet->objects;
    cairo_t *cairo = chart->page->cairo;
    for (int i = objects->deep_sky; i < objects->count; i++) {
        const struct object *star = &objects->object[i];
        double v[3], x, y;
        vector_from_radec(v, star->ra_deg, star->dec_deg);
        if (!(star->magnitude < chart->faintest) || !place(&x, &y, chart, v) ||
            !is_in(chart->box, x, y, -4)) {
            continue;
        }
        double radius = star_radius(chart, star->magnitude);
        page_ink(chart->page, PAGE_PAPER); /* a rim keeps close stars apart */
        disc(chart, x, y, radius + 0.7);
        cairo_fill(cairo);
        page_ink(chart->page, PAGE_INK);
        disc(chart, x, y, radius);
        cairo_fill(cairo);
    }
}

static void draw_figures(struct chart *chart, const struct figures *figures)
{
    cairo_t *cairo = chart->page->cairo;
    page_ink(chart->page, PAGE_FAINT);
    cairo_set_line_width(cairo, 0.9);
    for (int i = 0; figures && i < figures->lines; i++) {
        bool down = false;
        for (int k = 0; k < figures->line[i].count; k++) {
            double x, y;
            bool seen = place(&x, &y, chart, figures->point[figures->line[i].first + k]);
            if (seen && down) {
                cairo_line_to(cairo, x, y);
            } else if (seen) {
                cairo_move_to(cairo, x, y);
            }
            down = seen;
        }
    }
    cairo_stroke(cairo);
}

static void draw_frame(struct chart *chart)
{
    static const double corner[5][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}};
    cairo_t *cairo = chart->page->cairo;
    for (int side = 0; side < 4; side++) {
        for (int k = side ? 1 : 0; k <= 8; k++) {
            double part = k / 8.0, v[3], x, y;
            frame_point(v, chart->sheet, corner[side][0] * (1 - part) + corner[side + 1][0] * part,
                        corner[side][1] * (1 - part) + corner[side + 1][1] * part);
            if (place(&x, &y, chart, v)) {
                cairo_line_to(cairo, x, y);
            }
        }
    }
    cairo_close_path(cairo);
    page_ink(chart->page, PAGE_INK);
    cairo_set_line_width(cairo, 1.8);
    cairo_stroke(cairo);
}

static void draw_outlines(struct chart *chart)
{
    cairo_t *cairo = chart->page->cairo;
    const double dash[2] = {2.4, 1.8};
    const struct plan_item *item = chart->sheet->item;
    page_ink(chart->page, PAGE_INK);
    cairo_set_line_width(cairo, 0.9);
    for (int i = 0; i < item->members; i++) {
        double rim[ELLIPSE_RIM_MOST][3];
        int points = ellipse_reach_deg(&item->member[i].shape) > 0
                         ? ellipse_rim(rim, &item->member[i].shape)
                         : 0;
        for (int k = 0; k < points; k++) {
            double x, y;
            if (place(&x, &y, chart, rim[k])) {
                cairo_line_to(cairo, x, y);
            }
        }
        cairo_close_path(cairo);
        cairo_set_dash(cairo, dash, i ? 2 : 0, 0);
        cairo_stroke(cairo);
    }
    cairo_set_dash(cairo, dash, 0, 0);
}

/* How high the ground reaches, and what stands on it. */
static double ground_altitude(const struct skyline *skyline, double azimuth_deg)
{
    return fmax(0, skyline ? skyline_altitude(skyline, azimuth_deg) : 0); /* not NAN */
}

/* Below the horizon and the skyline nothing is seen: all of the chart but the circle that the
 * horizon is in this projection, less what stands before it. */
static void draw_ground(struct chart *chart)
{
    enum { POINTS = 720 };
    const double least_depth = 1e-3; /* of a horizon that passes the point behind the observer */
    const struct finder_box *box = chart->box;
    cairo_t *cairo = chart->page->cairo;
    for (int k = 0; k < POINTS; k++) {
        double ra, dec, v[3], azimuth = 360.0 * k / POINTS;
        horizon_radec(&ra, &dec, &chart->horizon, azimuth,
                      ground_altitude(chart->sheet->night->skyline, azimuth));
        vector_from_radec(v, ra, dec);
        double unit = 2 * chart->scale / fmax(1 + vector_dot(v, chart->ahead), least_depth);
        cairo_line_to(cairo, chart->x + unit * vector_dot(v, chart->right),
                      chart->y - unit * vector_dot(v, chart->up));
    }
    cairo_close_path(cairo);
    cairo_rectangle(cairo, box->x, box->y, box->width, box->height);
    cairo_set_fill_rule(cairo, CAIRO_FILL_RULE_EVEN_ODD);
    page_ink(chart->page, PAGE_FAINT);
    cairo_fill(cairo);
    cairo_set_fill_rule(cairo, CAIRO_FILL_RULE_WINDING);
}

static void take(struct chart *chart, double x, double y, double width, double height)
{
    if (chart->takens < MOST_LABELS) {
        chart->taken[chart->takens++] = (struct finder_box){x, y, width, height};
    }
}

static bool is_free(const struct chart *chart, const struct finder_box *box)
{
    for (int i = 0; i < chart->takens; i++) {
        const struct finder_box *other = &chart->taken[i];
        if (box->x < other->x + other->width && other->x < box->x + box->width &&
            box->y < other->y + other->height && other->y < box->y + box->height) {
            return false;
        }
    }
    return is_in(chart->box, box->x, box->y, 1) &&
           is_in(chart->box, box->x + box->width, box->y + box->height, 1);
}

/* Writes a name beside a point, where there is room; nothing if there is none. */
static void label(struct chart *chart, const char *text, double x, double y, double gap,
                  bool strong)
{
    struct page_type type = {label_size, strong, strong ? PAGE_INK : PAGE_SOFT, PAGE_LEFT};
    double width = page_text_width(chart->page, &type, text), height = label_size;
    const double corner[6][2] = {
        {x + gap, y - height / 2},         {x - gap - width, y - height / 2},
        {x - width / 2, y - gap - height}, {x - width / 2, y + gap},
        {x + gap * 0.7, y + gap * 0.7},    {x - width - gap * 0.7, y - gap * 0.7 - height}};
    for (int i = 0; i < 6; i++) {
        struct finder_box box = {corner[i][0], corner[i][1], width, height};
        if (is_free(chart, &box)) {
            take(chart, box.x, box.y, box.width, box.height);
            page_text_on_rim(chart->page, &type, box.x, box.y + height * 0.86, text);
            return;
        }
    }
}

static void label_objects(struct chart *chart)
{
    const struct plan_item *item = chart->sheet->item;
    for (int i = 0; i < item->members; i++) {
        double v[3], x, y;
        char name[60];
        const struct sky_ellipse *shape = &item->member[i].shape;
        vector_from_radec(v, shape->ra_deg, shape->dec_deg);
        caption_id(name, sizeof name, item->member[i].object);
        if (place(&x, &y, chart, v)) {
            double radius = shape->major_deg * RAD_PER_DEG * chart->scale;
            label(chart, name, x, y, fmax(radius, 2) + 3, i == 0);
        }
    }
}

/* "Rigel", not "τ Ori", "51 Peg" or "RR Lyr". */
static bool has_proper_name(const struct object *star)
{
    return isupper((unsigned char)star->id[0]) && islower((unsigned char)star->id[1]);
}

/* Whether the way to the target has named it already, or it is the target. */
static bool is_named(const struct plan_sheet *sheet, const struct object *star)
{
    for (int i = 0; i < sheet->approach->stops; i++) {
        if (sheet->approach->stop[i].star == star) {
            return true;
        }
    }
    return sheet->item->member[0].object == star;
}

static bool is_up(const struct chart *chart, const struct object *star)
{
    double azimuth, altitude;
    horizon_find(&azimuth, &altitude, &chart->horizon, star->ra_deg, star->dec_deg);
    return altitude > ground_altitude(chart->sheet->night->skyline, azimuth);
}

static void label_stars(struct chart *chart)
{
    const struct objects *objects = chart->sheet->objects;
    for (int i = objects->deep_sky; i < objects->count; i++) {
        const struct object *star = &objects->object[i];
        double v[3], x, y;
        char name[60];
        vector_from_radec(v, star->ra_deg, star->dec_deg);
        if (star->magnitude < fmin(3.2, chart->faintest - 2.2) && has_proper_name(star) &&
            !is_named(chart->sheet, star) && place(&x, &y, chart, v) &&
            is_in(chart->box, x, y, 3) && is_up(chart, star)) {
            caption_id(name, sizeof name, star);
            label(chart, name, x, y, star_radius(chart, star->magnitude) + 3, false);
        }
    }
}

/* An arrow that leaves room for the marks at its ends. */
static void draw_arrow(struct chart *chart, const double from[2], const double to[2],
                       double end_gap)
{
    cairo_t *cairo = chart->page->cairo;
    const double start_gap = 9, head = 6;
    double dx = to[0] - from[0], dy = to[1] - from[1], length = hypot(dx, dy);
    if (length < start_gap + end_gap + head) {
        return;
    }
    dx /= length;
    dy /= length;
    double x = to[0] - dx * end_gap, y = to[1] - dy * end_gap;
    page_ink(chart->page, PAGE_INK);
    cairo_set_line_width(cairo, 1.3);
    cairo_move_to(cairo, from[0] + dx * start_gap, from[1] + dy * start_gap);
    cairo_line_to(cairo, x - dx * head, y - dy * head);
    cairo_stroke(cairo);
    cairo_move_to(cairo, x, y);
    cairo_line_to(cairo, x - dx * head - dy * head * 0.45, y - dy * head + dx * head * 0.45);
    cairo_line_to(cairo, x - dx * head + dy * head * 0.45, y - dy * head - dx * head * 0.45);
    cairo_close_path(cairo);
    cairo_fill(cairo);
}

static void draw_way(struct chart *chart)
{
    const struct approach *approach = chart->sheet->approach;
    double at[APPROACH_STOPS][2], v[3];
    for (int i = 0; i < approach->stops; i++) {
        stop_direction(v, chart->sheet, i);
        if (!place(&at[i][0], &at[i][1], chart, v)) {
            return;
        }
    }
    for (int i = 0; i < approach->stops; i++) {
        if (i > 0) {
            draw_arrow(chart, at[i - 1], at[i], approach->stop[i].star ? 9 : 3);
        }
        if (approach->stop[i].star) {
            page_ink(chart->page, PAGE_INK);
            cairo_set_line_width(chart->page->cairo, 1.2);
            disc(chart, at[i][0], at[i][1], 7.5);
            cairo_stroke(chart->page->cairo);
            take(chart, at[i][0] - 7.5, at[i][1] - 7.5, 15, 15);
            char name[60];
            caption_id(name, sizeof name, approach->stop[i].star);
            label(chart, name, at[i][0], at[i][1], 10, true);
        }
    }
}

void finder_draw(struct page *page, const struct finder_box *box, const struct plan_sheet *sheet,
                 const struct figures *figures)
{
    struct chart chart = {.page = page, .box = box, .sheet = sheet};
    if (!horizon_make(&chart.horizon, &sheet->night->place, sheet->item->begin)) {
        return; /* nor is there a plan of such a time */
    }
    chart_make(&chart);
    cairo_save(page->cairo);
    cairo_rectangle(page->cairo, box->x, box->y, box->width, box->height);
    cairo_clip(page->cairo);
    cairo_new_path(page->cairo);
    draw_figures(&chart, figures);
    draw_stars(&chart);
    draw_ground(&chart);
    draw_outlines(&chart);
    draw_frame(&chart);
    draw_way(&chart);
    label_objects(&chart);
    label_stars(&chart);
    cairo_restore(page->cairo);
    page_ink(page, PAGE_SOFT);
    cairo_set_line_width(page->cairo, 0.8);
    cairo_rectangle(page->cairo, box->x, box->y, box->width, box->height);
    cairo_stroke(page->cairo);
}
