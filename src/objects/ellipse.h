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
};

/* The catalogued size and place of an object; a point if the size is unknown. What is
 * longer than wide has turn_unknown set if its table has no position angle. */
void ellipse_from_object(struct sky_ellipse *ellipse, const struct object *object);

/* Direction (unit vector, ICRS) of the point that lies the share part, 0..1, of the way from the
 * centre to the rim. angle_deg counts along the rim from the end of the major axis; it is the
 * parameter of the ellipse, not a position angle. */
void ellipse_direction(double v[3], const struct sky_ellipse *ellipse, double part,
                       double angle_deg);

/* Whether a direction lies in the ellipse; never if it is a point. */
bool ellipse_contains(const struct sky_ellipse *ellipse, const double v[3]);

#endif
