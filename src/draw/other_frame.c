#include "draw/other_frame.h"

#include "base/units.h"
#include "draw/pen.h"
#include "draw/sky_pen.h"
#include "sky/vector.h"

#include <math.h>

/* The tangent plane at the middle of the picture: unit vectors out, to the right and up. */
struct tangent_plane {
    double out[3], right[3], up[3];
};

static void find_plane(struct tangent_plane *plane, const struct wcs *wcs,
                       const struct other_frame *other)
{
    double ra = other->ra_deg, dec = other->dec_deg, up = other->up_deg, up_ra, up_dec;
    if (!other->placed) {
        wcs_centre(wcs, &ra, &dec);
        up = wcs_up_angle_deg(wcs);
    }
    vector_from_radec(plane->out, ra, dec);
    radec_offset(&up_ra, &up_dec, ra, dec, up, 90);
    vector_from_radec(plane->up, up_ra, up_dec);
    /* From inside the sphere, up cross out points to the left; a mirror turns that round. */
    if (wcs_mirrored(wcs)) {
        vector_cross(plane->right, plane->up, plane->out);
    } else {
        vector_cross(plane->right, plane->out, plane->up);
    }
}

static void plane_direction(double v[3], const struct tangent_plane *plane, double right, double up)
{
    for (int k = 0; k < 3; k++) {
        v[k] = plane->out[k] + right * plane->right[k] + up * plane->up[k];
    }
    vector_normalise(v);
}

/* Directions of the four corners, from the upper left one clockwise; false if there is no other
 * frame, or if it has the picture's middle and is not smaller. */
static bool find_corners(double corner[4][3], const struct wcs *wcs,
                         const struct other_frame *other)
{
    static const double ends[4][2] = {{-1, 1}, {1, 1}, {1, -1}, {-1, -1}};
    double width, height;
    wcs_field(wcs, &width, &height);
    bool hides = !other->placed && (other->width_deg >= width || other->height_deg >= height);
    if (other->width_deg <= 0 || hides) {
        return false;
    }
    double half_width = tan(other->width_deg / 2 * RAD_PER_DEG);
    double half_height = tan(other->height_deg / 2 * RAD_PER_DEG);
    struct tangent_plane plane;
    find_plane(&plane, wcs, other);
    for (int i = 0; i < 4; i++) {
        plane_direction(corner[i], &plane, ends[i][0] * half_width, ends[i][1] * half_height);
    }
    return true;
}

/* Four strokes around the middle, which they leave free. */
static void draw_middle(struct canvas *canvas, const struct wcs *wcs,
                        const struct other_frame *other)
{
    static const double ways[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
    double gap = STYLE_STAR_GAP * canvas->unit, end = gap + STYLE_MARK * canvas->unit, x, y;
    if (!wcs_pixel_radec(&x, &y, wcs, other->ra_deg, other->dec_deg) || x < 0 || y < 0 ||
        x > canvas->width - 1 || y > canvas->height - 1) {
        return;
    }
    cairo_new_path(canvas->cairo);
    for (int i = 0; i < 4; i++) {
        cairo_move_to(canvas->cairo, x + gap * ways[i][0], y + gap * ways[i][1]);
        cairo_line_to(canvas->cairo, x + end * ways[i][0], y + end * ways[i][1]);
    }
    pen_stroke(canvas, INK_FRAME, STYLE_LINE);
}

bool other_frame_draw(struct canvas *canvas, const struct wcs *wcs, const struct other_frame *other)
{
    double corner[4][3];
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    if (!find_corners(corner, wcs, other)) {
        return false;
    }
    cairo_new_path(canvas->cairo);
    for (int i = 0; i < 4; i++) {
        sky_pen_arc(&pen, corner[i], corner[(i + 1) % 4], wcs_radius_deg(wcs) / 60);
    }
    pen_stroke(canvas, INK_FRAME, STYLE_LINE);
    if (other->placed) {
        draw_middle(canvas, wcs, other);
    }
    return true;
}

/* Beside the cross at the middle, to the right or the left, below or above. */
static bool find_place_at_middle(struct label_box *name, const struct wcs *wcs,
                                 const struct other_frame *other, const struct label_space *space)
{
    double x, y;
    bool found = other->placed && wcs_pixel_radec(&x, &y, wcs, other->ra_deg, other->dec_deg);
    for (int i = 0; found && i < 4; i++) {
        name->x = i % 2 ? x - space->gap - name->width : x + space->gap;
        name->y = i < 2 ? y + space->gap : y - space->gap - name->height;
        if (label_box_is_free(name, space)) {
            return true;
        }
    }
    return false;
}

/* Above or below the upper or the lower edge, at its left or right end: the first that is free;
 * else at its middle. */
bool other_frame_name(struct label_box *name, struct canvas *canvas, const struct wcs *wcs,
                      const struct other_frame *other, const struct label_space *space)
{
    struct pen_text text = {other->name, STYLE_SMALL_TEXT, false, 0};
    double corner[4][3], x, y, wide, high;
    pen_measure(canvas, &text, &wide, &high);
    bool drawn = find_corners(corner, wcs, other);
    for (int i = 0; drawn && i < 8; i++) {
        if (!wcs_pixel(&x, &y, wcs, corner[i % 4])) {
            continue;
        }
        bool left = x < canvas->width / 2.0, above = (y < canvas->height / 2.0) == (i < 4);
        *name = (struct label_box){left ? x : x - wide,
                                   above ? y - space->gap - high : y + space->gap, wide, high};
        if (label_box_is_free(name, space)) {
            pen_write(canvas, &text, name->x, name->y, INK_FRAME);
            return true;
        }
    }
    *name = (struct label_box){0, 0, wide, high};
    if (drawn && find_place_at_middle(name, wcs, other, space)) {
        pen_write(canvas, &text, name->x, name->y, INK_FRAME);
        return true;
    }
    return false;
}
