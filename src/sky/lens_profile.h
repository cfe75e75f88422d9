/* sky/lens_profile.h: how a lens bends the sky, whatever the camera behind it.
 *
 * A lens that draws straight lines straight puts a star at focal length times the tangent of its
 * angle from the optical axis. A real one puts it elsewhere on the same line from the axis: drawn
 * at r, it belongs at
 *
 *     r (1 - d(r / R)),   d(s) = term[0] s^2 + term[1] s^4 + term[2] s^6,
 *
 * so that d is by which share of what is drawn it is drawn too far out: barrel < 0 < pincushion.
 * That way round the bend is exactly a SIP polynomial (sky/wcs.h). */
#ifndef ALIDADE_SKY_LENS_PROFILE_H
#define ALIDADE_SKY_LENS_PROFILE_H

#include "sky/wcs.h"

enum { LENS_TERMS = 3 };

/* All zeros but for the radius: a lens that does not distort. */
struct lens_profile {
    double radius; /* R over the focal length: where the terms count in full; > 0 */
    double term[LENS_TERMS];
    double axis_x, axis_y; /* of the optical axis from the middle of the picture, shares of R */
    double error;          /* of d(1), one sigma */
    double axis_error;     /* of axis_x and of axis_y, likewise */
};

/* d(s). */
double lens_profile_at(const struct lens_profile *profile, double s);

/* The trade's measure: drawn less straight, over straight; d / (1 - d). */
double lens_profile_share(const struct lens_profile *profile, double s);

/* s d(s) is how far a star is drawn too far out: its slope by s, which must be below 1 wherever
 * there is sky. */
double lens_profile_slope(const struct lens_profile *profile, double s);

/* Whether each distance up to R is drawn once: nowhere does the picture fold over. */
bool lens_profile_is_sound(const struct lens_profile *profile);

/* Sets distortion and its order so that the WCS bends as the lens does about its tangent point,
 * which is to be the optical axis; focal_px: focal length in pixels there. */
void lens_profile_bend(struct wcs *wcs, const struct lens_profile *profile, double focal_px);

/* "barrel" < 0 < "pincushion"; "no" where the share would be shown as 0 with so many decimals of
 * a per cent. */
const char *lens_profile_word(double share, int decimals);

#endif
