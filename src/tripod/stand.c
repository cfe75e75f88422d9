#include "tripod/stand.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>

/* Small beside a picture, large beside rounding. */
static const double step_deg = 0.01;

static void make_view(struct view *view, const struct wcs *wcs, const struct ground *ground)
{
    double ra, dec, above_ra, above_dec, above[3];
    wcs_centre(wcs, &ra, &dec);
    radec_offset(&above_ra, &above_dec, ra, dec, wcs_up_angle_deg(wcs), step_deg);
    vector_from_radec(view->out, ra, dec);
    vector_from_radec(above, above_ra, above_dec);
    ground_from_sky(view->out, ground, view->out, 0);
    ground_from_sky(above, ground, above, 0);
    vector_cross(view->right, view->out, above);
    vector_normalise(view->right);
    vector_cross(view->up, view->right, view->out);
}

void stand_make(struct stand *stand, const struct wcs *wcs, const struct ground *ground)
{
    *stand = (struct stand){.wcs = *wcs, .ground = *ground};
    make_view(&stand->view, wcs, ground);
}

void stand_back(double out[3], const struct stand *stand, double turn[3][3], const double v[3],
                double later_s)
{
    ground_from_sky(out, &stand->ground, v, later_s);
    if (turn) {
        matrix_apply_back(out, turn, out);
    }
    ground_to_sky(out, &stand->ground, out, 0);
}

bool stand_pixel(double *x, double *y, const struct stand *stand, double turn[3][3],
                 const double v[3], double later_s)
{
    double direction[3];
    stand_back(direction, stand, turn, v, later_s);
    return wcs_pixel(x, y, &stand->wcs, direction);
}

void stand_turned_wcs(struct wcs *out, const struct stand *stand, double turn[3][3])
{
    double tangent[3], north[3], ra, dec;
    *out = stand->wcs;
    vector_from_radec(tangent, out->ra_deg, out->dec_deg);
    radec_offset(&ra, &dec, out->ra_deg, out->dec_deg, 0, step_deg);
    vector_from_radec(north, ra, dec);
    double *direction[2] = {tangent, north};
    for (int i = 0; i < 2; i++) {
        ground_from_sky(direction[i], &stand->ground, direction[i], 0);
        matrix_apply(direction[i], turn, direction[i]);
        ground_to_sky(direction[i], &stand->ground, direction[i], 0);
    }
    vector_to_radec(&out->ra_deg, &out->dec_deg, tangent);
    vector_to_radec(&ra, &dec, north);
    wcs_turn(out, radec_position_angle_deg(out->ra_deg, out->dec_deg, ra, dec));
}

void view_turn(struct view *out, const struct view *view, double turn[3][3])
{
    matrix_apply(out->right, turn, view->right);
    matrix_apply(out->up, turn, view->up);
    matrix_apply(out->out, turn, view->out);
}

/* Of a level camera that looks there. */
static void level_view(struct view *view, double azimuth_deg, double altitude_deg)
{
    horizon_vector(view->out, azimuth_deg, altitude_deg);
    horizon_vector(view->right, azimuth_deg + 90, 0);
    vector_cross(view->up, view->right, view->out);
}

void view_angles(double *azimuth_deg, double *altitude_deg, double *roll_deg,
                 const struct view *view)
{
    struct view level;
    horizon_angles(azimuth_deg, altitude_deg, view->out);
    level_view(&level, *azimuth_deg, *altitude_deg);
    *roll_deg =
        atan2(vector_dot(view->up, level.right), vector_dot(view->up, level.up)) * DEG_PER_RAD;
}

void view_from_angles(struct view *view, double azimuth_deg, double altitude_deg, double roll_deg)
{
    level_view(view, azimuth_deg, altitude_deg);
    vector_turn(view->right, view->out, roll_deg);
    vector_turn(view->up, view->out, roll_deg);
}
