/* match/wcs_fit.h: a WCS from places in the picture and directions on the sky. */
#ifndef ALIDADE_MATCH_WCS_FIT_H
#define ALIDADE_MATCH_WCS_FIT_H

#include "match/pairs.h"
#include "match/pose.h"
#include "sky/wcs.h"

/* The highest order that stars are fitted with; a learned lens may bend by a higher one. */
enum { WCS_FIT_MAX_ORDER = 5 };

/* Something seen: a place, its direction, how much it counts. */
struct sighting {
    double x, y; /* px of the picture */
    double v[3];
    double weight;
};

/* Fits all of the WCS but its tangent pixel (wcs->x, y) and size, which must be set: polynomials of
 * the order (1..WCS_MAX_ORDER, 1 for plain TAN) by linear least squares on the tangent plane.
 * wcs->ra_deg, dec_deg must be right to a few degrees. False if the sightings do not
 * determine it. */
bool wcs_fit(struct wcs *wcs, const struct sighting *sighting, int count, int order);

/* The WCS of a pose: tangent point on the optical axis, SIP terms where it has distortion. width
 * and height of the picture in px. */
bool wcs_from_pose(struct wcs *wcs, const struct pose *pose, const struct pair_finder *finder);

#endif
