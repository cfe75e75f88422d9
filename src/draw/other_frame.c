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

static void find_plane(struct tangent_plane *plane, const struct wcs *wcs)
{
    double ra, dec, up_ra, up_dec;
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(plane->out, ra, dec);
    radec_offset(&up_ra, &up_dec, ra, dec, wcs_up_angle_deg(wcs), 90);
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
 * frame, or if it is not smaller than the picture. */
static bool find_corners(double corner[4][3], const struct wcs *wcs,
                         const struct other_frame *other)
{
    static const double ends[4][2] = {{-1, 1}, {1, 1}, {1, -1}, {-1, -1}};
    double width, height;
    wcs_field(wcs, &width, &height);
    if (other->width_deg <= 0 || other->width_deg >= width || other->height_deg >= height) {
        return false;
    }
    double half_width = tan(other->width_deg / 2 * RAD_PER_DEG);
    double half_height = tan(other->height_deg / 2 * RAD_PER_DEG);
    struct tangent_plane plane;
    find_plane(&plane, wcs);
    for (int i = 0; i < 4; i++) {
        plane_direction(corner[i], &plane, ends[i][0] * half_width, ends[i][1] * half_height);
    }
    return true;
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
    return true;
}

/* Above or below the upper or the lower edge, at its left or right end: the first that is free. */
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
    return false;
}
