#include "draw/other_frame.h"

#include "base/units.h"
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

/* Where the name goes: above the upper edge, at its left end, or below the edge if there is no
 * room above. */
static bool write_name(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs,
                       const struct tangent_plane *plane, double half_width, double half_height,
                       const char *name)
{
    struct canvas_text text = {name, STYLE_SMALL_TEXT, false, 0};
    double corner[3], gap = STYLE_GAP * canvas->unit;
    plane_direction(corner, plane, -half_width, half_height);
    if (!wcs_pixel(&taken->x, &taken->y, wcs, corner)) {
        return false;
    }
    canvas_measure(canvas, &text, &taken->width, &taken->height);
    double above = taken->y - gap - taken->height;
    taken->y = above > STYLE_MARGIN * canvas->unit ? above : taken->y + gap;
    canvas_write(canvas, &text, taken->x, taken->y, INK_FRAME);
    return true;
}

bool other_frame_draw(struct label_box *taken, struct canvas *canvas, const struct wcs *wcs,
                      const struct other_frame *other)
{
    static const double corners[5][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}};
    double width, height;
    wcs_field(wcs, &width, &height);
    if (other->width_deg <= 0 || other->width_deg >= width || other->height_deg >= height) {
        return false;
    }
    double half_width = tan(other->width_deg / 2 * RAD_PER_DEG);
    double half_height = tan(other->height_deg / 2 * RAD_PER_DEG), last[3] = {0, 0, 0};
    struct tangent_plane plane;
    struct sky_pen pen = {.canvas = canvas, .wcs = wcs};
    find_plane(&plane, wcs);
    cairo_new_path(canvas->cairo);
    for (int i = 0; i < 5; i++) {
        double v[3];
        plane_direction(v, &plane, corners[i][0] * half_width, corners[i][1] * half_height);
        if (i > 0) {
            sky_pen_arc(&pen, last, v, wcs_radius_deg(wcs) / 60);
        }
        for (int k = 0; k < 3; k++) {
            last[k] = v[k];
        }
    }
    canvas_stroke(canvas, INK_FRAME, STYLE_LINE);
    return write_name(taken, canvas, wcs, &plane, half_width, half_height, other->name);
}
