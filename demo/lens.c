#include "demo/lens.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>

static double corner_px(const struct lens *lens)
{
    return lens->corner_px > 0 ? lens->corner_px : hypot(lens->width, lens->height) / 2;
}

static void radial_terms(double *k3, double *k5, const struct lens *lens)
{
    double corner = corner_px(lens);
    *k3 = (1 / (1 + lens->distortion) - 1) / pow(corner, 2);
    *k5 = (1 / (1 + lens->moustache) - 1) / pow(corner, 4);
}

/* Everything but the pointing: the axis at (0, 0), picture-up northwards. */
static void lens_terms(struct wcs *wcs, const struct lens *lens)
{
    double k3, k5, scale = lens->scale_arcsec / 3600;
    radial_terms(&k3, &k5, lens);
    *wcs = (struct wcs){.width = lens->width, .height = lens->height};
    wcs->x = (lens->width - 1) / 2.0 + lens->axis_x;
    wcs->y = (lens->height - 1) / 2.0 + lens->axis_y;
    wcs->cd[0][0] = lens->mirrored ? scale : -scale;
    wcs->cd[1][1] = -scale;
    wcs->order = k5 != 0 ? 5 : k3 != 0 ? 3 : 0;
    wcs->a[3][0] = wcs->a[1][2] = wcs->b[0][3] = wcs->b[2][1] = k3;
    wcs->a[5][0] = wcs->a[1][4] = wcs->b[0][5] = wcs->b[4][1] = k5;
    wcs->a[3][2] = wcs->b[2][3] = 2 * k5;
}

/* Rows: the direction, its east and its north, turned by angle so that row 2 has that position
 * angle. */
static void axes_make(double axes[3][3], double ra_deg, double dec_deg, double angle_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG, angle = angle_deg * RAD_PER_DEG;
    double east[3] = {-sin(ra), cos(ra), 0};
    double north[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    vector_from_radec(axes[0], ra_deg, dec_deg);
    for (int i = 0; i < 3; i++) {
        axes[1][i] = east[i] * cos(angle) - north[i] * sin(angle);
        axes[2][i] = north[i] * cos(angle) + east[i] * sin(angle);
    }
}

/* Carries v along when the axes from are turned into the axes to. */
static void turn(double out[3], double from[3][3], double to[3][3], const double v[3])
{
    double part[3];
    for (int i = 0; i < 3; i++) {
        part[i] = vector_dot(from[i], v);
    }
    for (int i = 0; i < 3; i++) {
        out[i] = part[0] * to[0][i] + part[1] * to[1][i] + part[2] * to[2][i];
    }
}

void lens_wcs(struct wcs *wcs, const struct lens *lens, double ra_deg, double dec_deg,
              double up_angle_deg)
{
    static const double axis[3] = {1, 0, 0}, north[3] = {0, 0, 1};
    double from[3][3], to[3][3], ra, dec, new_axis[3], new_up[3], axes[3][3];
    lens_terms(wcs, lens);
    wcs_centre(wcs, &ra, &dec);
    axes_make(from, ra, dec, wcs_up_angle_deg(wcs));
    axes_make(to, ra_deg, dec_deg, up_angle_deg);
    turn(new_axis, from, to, axis);
    turn(new_up, from, to, north);
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, new_axis);
    axes_make(axes, wcs->ra_deg, wcs->dec_deg, 0);
    double angle = atan2(vector_dot(new_up, axes[1]), vector_dot(new_up, axes[2]));
    double scale = lens->scale_arcsec / 3600, hand = lens->mirrored ? -1 : 1;
    wcs->cd[0][0] = -hand * scale * cos(angle);
    wcs->cd[1][0] = hand * scale * sin(angle);
    wcs->cd[0][1] = -scale * sin(angle);
    wcs->cd[1][1] = -scale * cos(angle);
}

void lens_plan_make(struct lens_plan *plan, const struct lens *lens, const struct wcs *wcs)
{
    double axes[3][3], scale = lens->scale_arcsec / 3600;
    double focal = 1 / (scale * RAD_PER_DEG); /* px per unit of the tangent plane */
    axes_make(axes, wcs->ra_deg, wcs->dec_deg, 0);
    *plan = (struct lens_plan){.x = wcs->x, .y = wcs->y};
    radial_terms(&plan->k3, &plan->k5, lens);
    for (int i = 0; i < 3; i++) {
        plan->axis[i] = axes[0][i];
        plan->right[i] = focal * (axes[1][i] * wcs->cd[0][0] + axes[2][i] * wcs->cd[1][0]) / scale;
        plan->down[i] = focal * (axes[1][i] * wcs->cd[0][1] + axes[2][i] * wcs->cd[1][1]) / scale;
    }
    double far_x = lens->width / 2.0 + fabs(lens->axis_x);
    double far_y = lens->height / 2.0 + fabs(lens->axis_y);
    double far = 1.05 * hypot(far_x, far_y) + 20, square = far * far;
    plan->reach = far * (1 + plan->k3 * square + plan->k5 * square * square);
}

/* Newton's method for actual * (1 + k3 actual^2 + k5 actual^4) = ideal, as a factor. */
static double shrink(const struct lens_plan *plan, double ideal)
{
    double r = ideal;
    for (int i = 0; i < 6; i++) {
        double s = r * r;
        double miss = r * (1 + s * (plan->k3 + s * plan->k5)) - ideal;
        r -= miss / (1 + s * (3 * plan->k3 + s * 5 * plan->k5));
        if (fabs(miss) < 1e-6) {
            break;
        }
    }
    return r / ideal;
}

bool lens_air_make(struct lens_air *air, const struct place *place, struct utc utc)
{
    struct place no_air = *place;
    no_air.pressure_hpa = 0;
    return horizon_make(&air->through, place, utc) && horizon_make(&air->without, &no_air, utc);
}

/* Where without air a star stood that stands in the same place. */
static void lift(double out[3], const struct lens_air *air, const double v[3])
{
    double unit[3] = {v[0], v[1], v[2]};
    vector_normalise(unit);
    horizon_see(out, &air->through, unit, 0);
    horizon_unsee(out, &air->without, out, 0);
}

bool lens_plan_pixel(double *x, double *y, const struct lens_plan *plan, const double from[3])
{
    double v[3] = {from[0], from[1], from[2]};
    if (plan->air) {
        lift(v, plan->air, from);
    }
    double along = vector_dot(v, plan->axis);
    if (!(along > 0.01)) {
        return false;
    }
    double u = vector_dot(v, plan->right) / along, w = vector_dot(v, plan->down) / along;
    double ideal = sqrt(u * u + w * w);
    if (!(ideal < plan->reach)) {
        return false;
    }
    double factor = ideal > 0 && (plan->k3 != 0 || plan->k5 != 0) ? shrink(plan, ideal) : 1;
    *x = plan->x + u * factor;
    *y = plan->y + w * factor;
    return true;
}
