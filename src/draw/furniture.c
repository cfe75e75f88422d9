#include "draw/furniture.h"

#include "base/text.h"
#include "base/units.h"
#include "draw/pen.h"
#include "objects/field.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Whether north in a corner, where the arrows stand, is clearly another way than in the middle:
 * meridians turn by the tangent of the declination. */
static bool turns_much(const struct wcs *wcs, double dec_deg)
{
    return fabs(tan(dec_deg * RAD_PER_DEG)) * wcs_radius_deg(wcs) > 10;
}

/* "9.8° wide, 6.5° high  ·  north ↗ 38.2° right of up  ·  around 20h58m47.0s +44°20'02"" */
static void write_place(char *out, size_t size, const struct wcs *wcs)
{
    double ra_deg, dec_deg, width_deg, height_deg;
    char ra[24], dec[24], width[24], height[24], north[60];
    wcs_centre(wcs, &ra_deg, &dec_deg);
    wcs_field(wcs, &width_deg, &height_deg);
    text_write_ra(ra, sizeof ra, ra_deg);
    text_write_dec(dec, sizeof dec, dec_deg);
    text_write_angle(width, sizeof width, width_deg);
    text_write_angle(height, sizeof height, height_deg);
    field_write_north(north, sizeof north, wcs);
    snprintf(out, size, "%s wide, %s high  ·  north %s%s%s  ·  around %s %s", width, height, north,
             turns_much(wcs, dec_deg) ? " in the middle" : "",
             wcs_mirrored(wcs) ? ", mirrored" : "", ra, dec);
}

/* Makes a text small enough for the width; false if it would be too small to read. */
static bool shrink_to(struct canvas *canvas, struct pen_text *text, double width)
{
    double wide, high;
    pen_measure(canvas, text, &wide, &high);
    if (wide > width) {
        text->size *= 0.98 * width / wide;
        pen_measure(canvas, text, &wide, &high);
    }
    return wide <= width;
}

static bool draw_caption(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs,
                         const struct furniture *furniture, double width)
{
    enum { LINES = 3 };
    char place[240];
    write_place(place, sizeof place, wcs);
    struct pen_text line[LINES] = {{furniture->title, STYLE_TEXT, true, 0},
                                   {place, STYLE_SMALL_TEXT, false, 0},
                                   {furniture->facts, STYLE_SMALL_TEXT, false, 0}};
    double margin = STYLE_MARGIN * canvas->unit, high[LINES] = {0}, wide[LINES] = {0};
    *taken = (struct label_box){margin, margin, 0, 0};
    for (int i = 0; i < LINES; i++) {
        if (line[i].text[0] && shrink_to(canvas, &line[i], width)) {
            pen_measure(canvas, &line[i], &wide[i], &high[i]);
        }
        taken->width = fmax(taken->width, wide[i]);
        taken->height += high[i];
    }
    if (!furniture->caption_on_top) {
        taken->y = canvas->height - margin - taken->height;
    }
    double y = taken->y;
    for (int i = 0; i < LINES; i++) {
        if (high[i] > 0) {
            pen_write(canvas, &line[i], margin, y, INK_PLAIN);
            y += high[i];
        }
    }
    return taken->height > 0;
}

/* The round angle, degrees, that is nearest to a sixth of the picture's width. */
static double bar_angle(const struct wcs *wcs)
{
    static const double round[] = {0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200};
    double width_deg, height_deg, best = round[0];
    wcs_field(wcs, &width_deg, &height_deg);
    for (size_t i = 0; i < sizeof round / sizeof *round; i++) {
        double wanted = log(width_deg * 60 / 6);
        best = fabs(log(round[i]) - wanted) < fabs(log(best) - wanted) ? round[i] : best;
    }
    return best / 60;
}

static void write_round_angle(char *out, size_t size, double angle_deg)
{
    if (angle_deg >= 0.999) {
        snprintf(out, size, "%.0f°", angle_deg);
    } else {
        snprintf(out, size, "%g'", angle_deg * 60);
    }
}

static bool draw_scale_bar(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs)
{
    char angle[24];
    double wide, high, angle_deg = bar_angle(wcs);
    double length = angle_deg * 3600 / wcs_scale_arcsec(wcs), tick = 5 * canvas->unit;
    double margin = STYLE_MARGIN * canvas->unit;
    double right = canvas->width - margin, y = canvas->height - margin - tick;
    write_round_angle(angle, sizeof angle, angle_deg);
    struct pen_text text = {angle, STYLE_SMALL_TEXT, false, 0};
    pen_measure(canvas, &text, &wide, &high);
    if (!(length < canvas->width / 3.0) || wide > length) {
        return false;
    }
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, right - length, y - tick);
    cairo_line_to(canvas->cairo, right - length, y + tick);
    cairo_move_to(canvas->cairo, right, y - tick);
    cairo_line_to(canvas->cairo, right, y + tick);
    cairo_move_to(canvas->cairo, right - length, y);
    cairo_line_to(canvas->cairo, right, y);
    pen_stroke(canvas, INK_PLAIN, STYLE_LINE);
    double top = y - tick - high;
    pen_write(canvas, &text, right - length / 2 - wide / 2, top, INK_PLAIN);
    *taken = (struct label_box){right - length, top, length, canvas->height - margin - top};
    return true;
}

/* Unit vector on the picture from (x, y) towards a position angle. */
static bool sky_arrow(double arrow[2], const struct wcs *wcs, double x, double y, double angle_deg)
{
    double ra, dec, ra2, dec2, to_x, to_y;
    wcs_radec(&ra, &dec, wcs, x, y);
    radec_offset(&ra2, &dec2, ra, dec, angle_deg, 10 * wcs_scale_arcsec(wcs) / 3600);
    if (!wcs_pixel_radec(&to_x, &to_y, wcs, ra2, dec2)) {
        return false;
    }
    double length = hypot(to_x - x, to_y - y);
    arrow[0] = (to_x - x) / length;
    arrow[1] = (to_y - y) / length;
    return length > 0;
}

/* A line with an open point, and its letter beyond. */
static void draw_arrow(struct canvas *canvas, double x, double y, const double arrow[2],
                       double length, const char *letter)
{
    double tip_x = x + length * arrow[0], tip_y = y + length * arrow[1], back = 7 * canvas->unit;
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x, y);
    cairo_line_to(canvas->cairo, tip_x, tip_y);
    for (int side = -1; side <= 1; side += 2) {
        cairo_move_to(canvas->cairo, tip_x, tip_y);
        cairo_line_to(canvas->cairo, tip_x - back * (arrow[0] - side * 0.5 * arrow[1]),
                      tip_y - back * (arrow[1] + side * 0.5 * arrow[0]));
    }
    pen_stroke(canvas, INK_PLAIN, STYLE_LINE);
    struct pen_text text = {letter, STYLE_SMALL_TEXT, true, 0};
    double wide, high, beyond = length + STYLE_SMALL_TEXT * 0.75 * canvas->unit;
    pen_measure(canvas, &text, &wide, &high);
    pen_write(canvas, &text, x + beyond * arrow[0] - wide / 2, y + beyond * arrow[1] - high / 2,
              INK_PLAIN);
}

static bool draw_arrows(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs)
{
    double length = STYLE_ARROW * canvas->unit, around = 1.45 * length;
    double inset = around + STYLE_MARGIN * canvas->unit / 2;
    double x = canvas->width - inset, y = inset, north[2], east[2];
    if (canvas->width < 6 * around || canvas->height < 6 * around ||
        !sky_arrow(north, wcs, x, y, 0) || !sky_arrow(east, wcs, x, y, 90)) {
        return false;
    }
    /* The two arrows' middle, not their common foot, belongs into the corner. */
    x -= (north[0] + 0.6 * east[0]) * length / 2;
    y -= (north[1] + 0.6 * east[1]) * length / 2;
    draw_arrow(canvas, x, y, north, length, "N");
    draw_arrow(canvas, x, y, east, 0.6 * length, "E");
    *taken =
        (struct label_box){canvas->width - inset - around, inset - around, 2 * around, 2 * around};
    return true;
}

/* The caption takes what the arrows or the scale bar leave of the width. */
static double caption_room(struct canvas *canvas, const struct furniture *furniture,
                           const struct label_box *arrows, const struct label_box *bar)
{
    double margin = STYLE_MARGIN * canvas->unit;
    const struct label_box *beside = furniture->caption_on_top ? arrows : bar;
    return canvas->width - 2 * margin - beside->width - (beside->width > 0 ? 3 * margin : 0);
}

int furniture_draw(struct label_box taken[FURNITURE_PIECES], struct canvas *canvas,
                   const struct wcs *wcs, const struct furniture *furniture)
{
    struct label_box bar = {0}, arrows = {0}, caption = {0};
    int pieces = 0;
    if (furniture->scale && draw_scale_bar(&bar, canvas, wcs)) {
        taken[pieces++] = bar;
    }
    if (furniture->arrows && draw_arrows(&arrows, canvas, wcs)) {
        taken[pieces++] = arrows;
    }
    double room = caption_room(canvas, furniture, &arrows, &bar);
    if (furniture->caption && draw_caption(&caption, canvas, wcs, furniture, room)) {
        taken[pieces++] = caption;
    }
    return pieces;
}

void furniture_caption_box(struct label_box *box, struct canvas *canvas, const struct wcs *wcs,
                           const struct furniture *furniture)
{
    struct label_box taken[FURNITURE_PIECES];
    bool was_quiet = canvas->quiet;
    canvas->quiet = true;
    int pieces = furniture_draw(taken, canvas, wcs, furniture);
    canvas->quiet = was_quiet;
    *box = furniture->caption && pieces ? taken[pieces - 1] : (struct label_box){0};
}
