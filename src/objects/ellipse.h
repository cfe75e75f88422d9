/* objects/ellipse.h: the outline of an object on the sky. */
#ifndef ALIDADE_OBJECTS_ELLIPSE_H
#define ALIDADE_OBJECTS_ELLIPSE_H

#include "objects/objects.h"

#include <stdbool.h>

/* Its axes are arcs of great circles through the centre. All zeros: a point. */
struct sky_ellipse {
    double ra_deg, dec_deg;      /* of the centre; ICRS */
    double major_deg, minor_deg; /* semi axes, 0 <= minor_deg <= major_deg < 90 */
    double turn_deg;             /* position angle of the major axis, degrees east of north */
    bool turn_unknown;           /* then the circle around it is meant, whose radius is major_deg */
    const struct outline *outline; /* where better known; moves and turns with the ellipse; or NULL
                                    */
};

/* The catalogued size and place of an object; a point if the size is unknown. What is
 * longer than wide has turn_unknown set if its table has no position angle. */
void ellipse_from_object(struct sky_ellipse *ellipse, const struct object *object);

/* Direction (unit vector, ICRS) of the point that lies the share part, 0..1, of the way from the
 * centre to the rim. angle_deg counts along the rim from the end of the major axis; it is the
 * parameter of the ellipse, not a position angle. */
void ellipse_direction(double v[3], const struct sky_ellipse *ellipse, double part,
                       double angle_deg);

/* Whether a direction lies in the outline, or without one in the ellipse; never if it is a point.
 */
bool ellipse_contains(const struct sky_ellipse *ellipse, const double v[3]);

/* How far its farthest point is from its centre, degrees. */
double ellipse_reach_deg(const struct sky_ellipse *ellipse);

enum { ELLIPSE_RIM_MOST = 128 };

/* Directions around it, in order: the corners of the outline's hull, or without one 72 points of
 * the ellipse's rim. Returns how many. */
int ellipse_rim(double rim[ELLIPSE_RIM_MOST][3], const struct sky_ellipse *ellipse);

/* Directions within it, each for the same area, at most so many: for shares of it. The outline's
 * may be none if it is very thin. */
enum { ELLIPSE_AREA_MOST = 1024 };
int ellipse_area(double inner[ELLIPSE_AREA_MOST][3], const struct sky_ellipse *ellipse);

/* The east and north axes of the plane of an outline, as the ellipse lies now; unit vectors. */
struct ellipse_plane {
    double centre[3], east[3], north[3];
};
void ellipse_plane_make(struct ellipse_plane *plane, const struct sky_ellipse *ellipse);
void ellipse_plane_direction(double v[3], const struct ellipse_plane *plane, double xi, double eta);

#endif
