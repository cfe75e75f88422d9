#include "draw/grid.h"

#include "base/units.h"
#include "draw/pen.h"
#include "draw/sky_pen.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

/* So many lines cross the picture's shorter side. */
static const double lines_wanted = 4.0;

static const double dec_steps_arcmin[] = {1,  2,   5,   10,  15,  20,   30,
                                          60, 120, 300, 600, 900, 1800, 2700};
static const double ra_steps_s[] = {1,   2,   5,    10,   15,   20,   30,    60,   120,
                                    300, 600, 1200, 1800, 3600, 7200, 10800, 21600};

/* The one nearest in proportion. */
static double round_step(const double *step, size_t count, double wanted)
{
    double best = step[0];
    for (size_t i = 1; i < count; i++) {
        best = fabs(log(step[i] / wanted)) < fabs(log(best / wanted)) ? step[i] : best;
    }
    return best;
}

void grid_choose_steps(struct grid_steps *steps, const struct wcs *wcs)
{
    double width, height, ra, dec;
    wcs_field(wcs, &width, &height);
    wcs_centre(wcs, &ra, &dec);
    double spacing = fmin(width, height) / lines_wanted;
    double narrowing =
        fmax(cos(dec * RAD_PER_DEG), sin(fmin(wcs_radius_deg(wcs), 60) / 2 * RAD_PER_DEG));
    steps->dec_deg =
        round_step(dec_steps_arcmin, sizeof dec_steps_arcmin / sizeof(double), spacing * 60) / 60;
    steps->ra_deg =
        round_step(ra_steps_s, sizeof ra_steps_s / sizeof(double), spacing / narrowing * 240) / 240;
}

/* The part of the sky that the picture lies in. */
struct grid_extent {
    double ra, ra_half; /* right ascensions within so much of ra */
    double dec_low, dec_high;
    double sample; /* points on a line are so close; degrees */
};

static void find_extent(struct grid_extent *extent, const struct wcs *wcs)
{
    const double most = wcs->projection == PROJECTION_TAN ? 89 : 180;
    double ra, dec, radius = fmin(wcs_radius_deg(wcs) * 1.05 + 0.01, most);
    wcs_centre(wcs, &ra, &dec);
    bool pole = fabs(dec) + radius >= 90;
    double half =
        pole ? 180
             : asin(fmin(1, sin(radius * RAD_PER_DEG) / cos(dec * RAD_PER_DEG))) * DEG_PER_RAD;
    *extent = (struct grid_extent){ra, half, fmax(-90, dec - radius), fmin(90, dec + radius),
                                   radius / 60};
}

static void draw_circles(struct sky_pen *pen, const struct grid_steps *steps,
                         const struct grid_extent *extent)
{
    double first = ceil(extent->dec_low / steps->dec_deg) * steps->dec_deg;
    for (double dec = first; dec <= extent->dec_high + 1e-9; dec += steps->dec_deg) {
        double along = extent->sample / fmax(cos(dec * RAD_PER_DEG), 0.01);
        int points = (int)ceil(2 * extent->ra_half / along) + 1;
        sky_pen_lift(pen);
        for (int i = 0; fabs(dec) < 89.999 && i <= points; i++) {
            double part = 2.0 * i / points - 1;
            sky_pen_to_radec(pen, extent->ra + part * extent->ra_half, dec);
        }
    }
}

/* Lines of right ascension would crowd at a pole: only every sixth hour goes all the way. */
static double farthest_dec(double ra, const struct grid_steps *steps)
{
    bool quarter = fabs(remainder(ra, 90)) < 1e-6;
    return quarter ? 90 : 90 - steps->dec_deg;
}

static void draw_meridians(struct sky_pen *pen, const struct grid_steps *steps,
                           const struct grid_extent *extent)
{
    double west = extent->ra - extent->ra_half, east = extent->ra + extent->ra_half;
    int first = (int)ceil(west / steps->ra_deg), last = (int)floor(east / steps->ra_deg);
    for (int k = first; k <= last; k++) {
        double ra = k * steps->ra_deg, limit = farthest_dec(ra, steps);
        double low = fmax(extent->dec_low, -limit), high = fmin(extent->dec_high, limit);
        int points = (int)ceil((high - low) / extent->sample) + 1;
        sky_pen_lift(pen);
        for (int i = 0; low < high && i <= points; i++) {
            sky_pen_to_radec(pen, ra, low + (high - low) * i / points);
        }
    }
}

void grid_draw(struct canvas *canvas, const struct wcs *wcs, const struct grid_steps *steps)
{
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    struct grid_extent extent;
    find_extent(&extent, wcs);
    cairo_new_path(canvas->cairo);
    draw_circles(&pen, steps, &extent);
    draw_meridians(&pen, steps, &extent);
    pen_stroke_faint(canvas, INK_GRID, STYLE_THIN_LINE);
}

/* A place on an edge; along counts from its left or upper end, px. */
static void edge_pixel(double *x, double *y, const struct wcs *wcs, enum picture_edge edge,
                       double along)
{
    bool level = edge == EDGE_BOTTOM || edge == EDGE_TOP;
    *x = level ? along - 0.5 : edge == EDGE_LEFT ? -0.5 : wcs->width - 0.5;
    *y = !level ? along - 0.5 : edge == EDGE_TOP ? -0.5 : wcs->height - 0.5;
}

static double edge_value(const struct wcs *wcs, enum picture_edge edge, double along, bool is_ra)
{
    double x, y, ra, dec;
    edge_pixel(&x, &y, wcs, edge, along);
    wcs_radec(&ra, &dec, wcs, x, y);
    return is_ra ? ra : dec;
}

/* How far the value at a place of the edge is from the line's. */
static double edge_offset(const struct wcs *wcs, enum picture_edge edge, double along, bool is_ra,
                          double value)
{
    double difference = edge_value(wcs, edge, along, is_ra) - value;
    return is_ra ? angle_wrap_180(difference) : difference;
}

static double edge_slope(const struct grid_crossing *at, const struct wcs *wcs)
{
    double ra, dec, x, y, step = wcs_scale_arcsec(wcs) / 3600;
    wcs_radec(&ra, &dec, wcs, at->x, at->y);
    if (at->is_ra) {
        dec += dec > 0 ? -step : step;
    } else {
        ra += step / fmax(cos(dec * RAD_PER_DEG), 1e-3);
    }
    if (!wcs_pixel_radec(&x, &y, wcs, ra, dec)) {
        return 0;
    }
    bool level = at->edge == EDGE_BOTTOM || at->edge == EDGE_TOP;
    double across = level ? y - at->y : x - at->x;
    return fabs(across) / fmax(hypot(x - at->x, y - at->y), 1e-12);
}

/* The line crosses the edge between low and high: halves that until it is found. */
static void find_crossing(struct grid_crossing *at, const struct wcs *wcs, double low, double high)
{
    double at_low = edge_offset(wcs, at->edge, low, at->is_ra, at->value_deg);
    while (high - low > 0.001) {
        double middle = (low + high) / 2;
        double here = edge_offset(wcs, at->edge, middle, at->is_ra, at->value_deg);
        if (here * at_low > 0) {
            low = middle;
        } else {
            high = middle;
        }
    }
    edge_pixel(&at->x, &at->y, wcs, at->edge, (low + high) / 2);
    at->value_deg = at->is_ra ? angle_wrap_360(at->value_deg) : at->value_deg;
    at->slope = edge_slope(at, wcs);
}

/* Lines of one kind between two neighbouring places on an edge. */
static int cross_lines(struct grid_crossing *crossing, int count, const struct wcs *wcs,
                       enum picture_edge edge, double along, double step_px, bool is_ra,
                       double step_deg)
{
    double from = edge_value(wcs, edge, along, is_ra);
    double turn = edge_offset(wcs, edge, along + step_px, is_ra, from);
    double low = fmin(from, from + turn), high = fmax(from, from + turn);
    int first = (int)ceil(low / step_deg), last = (int)floor(high / step_deg);
    if (fabs(turn) > 60) {
        return count; /* beside a pole right ascension leaps */
    }
    for (int k = first; k <= last && count < GRID_MOST_CROSSINGS; k++) {
        struct grid_crossing at = {.is_ra = is_ra, .value_deg = k * step_deg, .edge = edge};
        if (k * step_deg == from + turn) {
            continue; /* it is the first of the next piece */
        }
        find_crossing(&at, wcs, along, along + step_px);
        if (wcs_reaches(wcs, at.x, at.y)) {
            crossing[count++] = at;
        }
    }
    return count;
}

int grid_crossings(struct grid_crossing *crossing, const struct wcs *wcs,
                   const struct grid_steps *steps)
{
    int count = 0;
    for (int edge = EDGE_BOTTOM; edge <= EDGE_RIGHT; edge++) {
        int length = edge == EDGE_BOTTOM || edge == EDGE_TOP ? wcs->width : wcs->height;
        int pieces = length < 256 ? length : 256;
        double step_px = (double)length / pieces;
        for (int i = 0; i < pieces; i++) {
            enum picture_edge here = (enum picture_edge)edge;
            count =
                cross_lines(crossing, count, wcs, here, i * step_px, step_px, true, steps->ra_deg);
            count = cross_lines(crossing, count, wcs, here, i * step_px, step_px, false,
                                steps->dec_deg);
        }
    }
    return count;
}

static void write_ra(char *out, size_t size, double ra_deg, double step_deg)
{
    long total = lround(ra_deg * 240) % 86400;
    int hours = (int)(total / 3600), minutes = (int)(total / 60 % 60), seconds = (int)(total % 60);
    if (step_deg >= 14.99) {
        snprintf(out, size, "%dʰ", hours);
    } else if (step_deg > 0.249) {
        snprintf(out, size, "%dʰ%02dᵐ", hours, minutes);
    } else {
        snprintf(out, size, "%dʰ%02dᵐ%02dˢ", hours, minutes, seconds);
    }
}

static void write_dec(char *out, size_t size, double dec_deg, double step_deg)
{
    long total = lround(fabs(dec_deg) * 60);
    const char *sign = total == 0 ? "" : dec_deg < 0 ? "−" : "+";
    if (step_deg > 0.99) {
        snprintf(out, size, "%s%ld°", sign, total / 60);
    } else {
        snprintf(out, size, "%s%ld°%02ld′", sign, total / 60, total % 60);
    }
}

void grid_write_value(char *out, size_t size, const struct grid_crossing *crossing,
                      const struct grid_steps *steps)
{
    if (crossing->is_ra) {
        write_ra(out, size, crossing->value_deg, steps->ra_deg);
    } else {
        write_dec(out, size, crossing->value_deg, steps->dec_deg);
    }
}

static struct pen_text label_text(const struct grid_label *label)
{
    return (struct pen_text){label->text, STYLE_TINY_TEXT, false, 0};
}

/* Inside the picture, over the line's end. */
static void set_box(struct grid_label *label, struct canvas *canvas)
{
    const struct grid_crossing *at = &label->at;
    struct pen_text text = label_text(label);
    struct label_box *box = &label->box;
    double inset = STYLE_MARGIN / 3 * canvas->unit;
    pen_measure(canvas, &text, &box->width, &box->height);
    box->x = at->x - box->width / 2;
    box->y = at->y - box->height / 2;
    switch (at->edge) {
    case EDGE_BOTTOM:
        box->y = at->y - inset - box->height;
        break;
    case EDGE_TOP:
        box->y = at->y + inset;
        break;
    case EDGE_LEFT:
        box->x = at->x + inset;
        break;
    case EDGE_RIGHT:
        box->x = at->x - inset - box->width;
        break;
    }
}

static bool is_free(const struct grid_label *label, int count, const struct label_box *box,
                    const struct canvas *canvas, const struct label_box *taken, int taken_count)
{
    double gap = STYLE_GAP * canvas->unit;
    const struct label_space space = {.width = canvas->width,
                                      .height = canvas->height,
                                      .margin = gap / 2,
                                      .gap = gap,
                                      .taken = taken,
                                      .taken_count = taken_count};
    bool free = label_box_is_free(box, &space);
    for (int i = 0; free && i < count; i++) {
        free = !label_boxes_touch(box, &label[i].box, 2 * gap);
    }
    return free;
}

static bool is_named(const struct grid_label *label, int count, const struct grid_crossing *at)
{
    for (int i = 0; i < count; i++) {
        if (label[i].at.is_ra == at->is_ra && fabs(label[i].at.value_deg - at->value_deg) < 1e-9) {
            return true;
        }
    }
    return false;
}

/* Hours are looked for along the bottom, degrees along the left side, and elsewhere if a line does
 * not go there, or too aslant. */
static const enum picture_edge edge_order[2][4] = {
    {EDGE_LEFT, EDGE_RIGHT, EDGE_BOTTOM, EDGE_TOP},
    {EDGE_BOTTOM, EDGE_TOP, EDGE_LEFT, EDGE_RIGHT},
};
static const double least_slope = 0.4;

static int place_on_edge(struct grid_label *label, int count, struct canvas *canvas,
                         const struct grid_crossing *crossing, int crossings, int turn,
                         const struct grid_steps *steps, const struct label_box *taken,
                         int taken_count)
{
    for (int i = 0; i < crossings; i++) {
        const struct grid_crossing *at = &crossing[i];
        if (at->edge != edge_order[at->is_ra][turn] || at->slope < least_slope ||
            is_named(label, count, at)) {
            continue;
        }
        label[count].at = *at;
        grid_write_value(label[count].text, sizeof label[count].text, at, steps);
        set_box(&label[count], canvas);
        count += is_free(label, count, &label[count].box, canvas, taken, taken_count);
    }
    return count;
}

/* Drops those where a line has ended before, since it is not drawn where nothing is proven. */
static int keep_proven(struct grid_crossing *crossing, int crossings, const struct wcs *wcs,
                       const struct trust *trust)
{
    int kept = 0;
    for (int i = 0; i < crossings; i++) {
        double x = fmax(0, fmin(crossing[i].x, wcs->width - 1));
        double y = fmax(0, fmin(crossing[i].y, wcs->height - 1));
        if (!trust || trust_holds(trust, x, y)) {
            crossing[kept++] = crossing[i];
        }
    }
    return kept;
}

int grid_place_labels(struct grid_label *label, struct canvas *canvas, const struct wcs *wcs,
                      const struct grid_steps *steps, const struct trust *trust,
                      const struct label_box *taken, int taken_count)
{
    struct grid_crossing crossing[GRID_MOST_CROSSINGS];
    int count = 0, crossings = grid_crossings(crossing, wcs, steps);
    crossings = keep_proven(crossing, crossings, wcs, trust);
    for (int turn = 0; turn < 4; turn++) {
        count = place_on_edge(label, count, canvas, crossing, crossings, turn, steps, taken,
                              taken_count);
    }
    return count;
}

void grid_write_labels(struct canvas *canvas, const struct grid_label *label, int count)
{
    for (int i = 0; i < count; i++) {
        struct pen_text text = label_text(&label[i]);
        pen_write(canvas, &text, label[i].box.x, label[i].box.y, INK_PLAIN);
    }
}
