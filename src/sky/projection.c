#include "sky/projection.h"

#include "base/units.h"

#include <math.h>
#include <stddef.h>

static const struct {
    const char *code, *words;
    double farthest_deg; /* from the middle, or above and below a cylinder's horizon */
} kinds[PROJECTION_KINDS] = {
    [PROJECTION_TAN] = {"TAN", "rectilinear", 85},
    [PROJECTION_ARC] = {"ARC", "equidistant fisheye", 179},
    [PROJECTION_ZEA] = {"ZEA", "equisolid fisheye", 179},
    [PROJECTION_STG] = {"STG", "stereographic fisheye", 170},
    [PROJECTION_SIN] = {"SIN", "orthographic fisheye", 90},
    [PROJECTION_CYP] = {"CYP", "cylindrical panorama", 80},
    [PROJECTION_CAR] = {"CAR", "equirectangular panorama", 90},
};

const char *projection_code(enum projection_kind kind)
{
    return kinds[kind].code;
}

const char *projection_words(enum projection_kind kind)
{
    return kinds[kind].words;
}

bool projection_is_cylinder(enum projection_kind kind)
{
    return kind == PROJECTION_CYP || kind == PROJECTION_CAR;
}

/* Distance on the plane from its middle, of an angle from there. */
static double radius_of(enum projection_kind kind, double angle)
{
    switch (kind) {
    case PROJECTION_ARC:
        return angle;
    case PROJECTION_ZEA:
        return 2 * sin(angle / 2);
    case PROJECTION_STG:
        return 2 * tan(angle / 2);
    case PROJECTION_SIN:
        return sin(angle);
    default:
        return tan(angle);
    }
}

static double angle_of(enum projection_kind kind, double radius)
{
    switch (kind) {
    case PROJECTION_ARC:
        return fmin(radius, PI);
    case PROJECTION_ZEA:
        return 2 * asin(fmin(radius / 2, 1));
    case PROJECTION_STG:
        return 2 * atan(radius / 2);
    case PROJECTION_SIN:
        return asin(fmin(radius, 1));
    default:
        return atan(radius);
    }
}

static bool cylinder_plane(double plane[2], enum projection_kind kind, const double v[3])
{
    double level = hypot(v[0], v[2]), rise = atan2(v[1], level);
    if (!(fabs(rise) <= kinds[kind].farthest_deg * RAD_PER_DEG)) {
        return false;
    }
    plane[0] = atan2(v[0], v[2]);
    plane[1] = kind == PROJECTION_CAR ? rise : v[1] / level;
    return true;
}

bool projection_plane(double plane[2], enum projection_kind kind, const double v[3])
{
    if (projection_is_cylinder(kind)) {
        return cylinder_plane(plane, kind, v);
    }
    double across = hypot(v[0], v[1]), angle = atan2(across, v[2]);
    if (!(angle <= kinds[kind].farthest_deg * RAD_PER_DEG)) {
        return false;
    }
    double stretch = across > 1e-12 ? radius_of(kind, angle) / across : 1;
    plane[0] = v[0] * stretch;
    plane[1] = v[1] * stretch;
    return true;
}

void projection_vector(double v[3], enum projection_kind kind, const double plane[2])
{
    if (projection_is_cylinder(kind)) {
        double turn = fmin(fmax(plane[0], -PI), PI);
        double rise =
            kind == PROJECTION_CAR ? fmin(fmax(plane[1], -PI / 2), PI / 2) : atan(plane[1]);
        v[0] = cos(rise) * sin(turn);
        v[1] = sin(rise);
        v[2] = cos(rise) * cos(turn);
        return;
    }
    double radius = hypot(plane[0], plane[1]), angle = angle_of(kind, radius);
    double share = radius > 1e-12 ? sin(angle) / radius : 1;
    v[0] = plane[0] * share;
    v[1] = plane[1] * share;
    v[2] = cos(angle);
}
