/* tripod/stand.h: a camera on its tripod, as one solved frame shows it. */
#ifndef ALIDADE_TRIPOD_STAND_H
#define ALIDADE_TRIPOD_STAND_H

#include "sky/wcs.h"
#include "tripod/ground.h"

#include <stdbool.h>

/* Unit vectors at right angles on the axes of a ground: right of the camera, its upper side, and
 * where it looks; as the photographer behind it has them, also if the picture is mirrored. */
struct view {
    double right[3], up[3], out[3];
};

struct stand {
    struct wcs wcs;
    struct ground ground; /* utc is the middle of the exposure */
    struct view view;
};

void stand_make(struct stand *stand, const struct wcs *wcs, const struct ground *ground);

/* The ICRS direction that this picture shows where another one, later_s seconds later, will show v;
 * with turn as below. */
void stand_back(double out[3], const struct stand *stand, double turn[3][3], const double v[3],
                double later_s);

/* Where the ICRS direction v will be in a picture later_s seconds after this one, if the camera has
 * been turned by turn (on the ground's axes; NULL: not touched) in between. px, in the picture or
 * not; false as wcs_pixel is. */
bool stand_pixel(double *x, double *y, const struct stand *stand, double turn[3][3],
                 const double v[3], double later_s);

/* The WCS that a picture at the same moment would have if the camera had been turned by turn (on
 * the ground's axes) before. */
void stand_turned_wcs(struct wcs *out, const struct stand *stand, double turn[3][3]);

/* The same view, turned. */
void view_turn(struct view *out, const struct view *view, double turn[3][3]);

/* On the axes of a horizon: azimuth and altitude of the line of sight, and how far the camera's
 * upper side leans clockwise from upright as seen from behind, -180..180. */
void view_angles(double *azimuth_deg, double *altitude_deg, double *roll_deg,
                 const struct view *view);
/* Inverse of view_angles. */
void view_from_angles(struct view *view, double azimuth_deg, double altitude_deg, double roll_deg);

#endif
