#include "objects/ellipse.h"

#include "base/units.h"
#include "objects/outline.h"
#include "sky/vector.h"

#include <math.h>

/* No object of the tables comes near this; a damaged table must not wrap round the sky. */
static const double largest_deg = 80;

/* Half of a size in minutes of arc, as degrees; 0 if unknown. */
static double half_size_deg(double arcmin)
{
    return arcmin > 0 ? fmin(arcmin / 120, largest_deg) : 0;
}

void ellipse_from_object(struct sky_ellipse *ellipse, const struct object *object)
{
    double major = half_size_deg(object->major_arcmin), minor = half_size_deg(object->minor_arcmin);
    *ellipse = (struct sky_ellipse){
        .ra_deg = object->ra_deg,
        .dec_deg = object->dec_deg,
        .major_deg = fmax(major, minor),
        .minor_deg = minor > 0 ? fmin(major, minor) : major,
    };
    bool turned = isfinite(object->angle_deg);
    ellipse->turn_deg = turned ? object->angle_deg : 0;
    ellipse->turn_unknown = !turned && !object->outline && ellipse->minor_deg < ellipse->major_deg;
    ellipse->outline = object->outline;
}

static double semi_minor(const struct sky_ellipse *ellipse)
{
    return ellipse->turn_unknown ? ellipse->major_deg : ellipse->minor_deg;
}

void ellipse_direction(double v[3], const struct sky_ellipse *ellipse, double part,
                       double angle_deg)
{
    double along = part * ellipse->major_deg * cos(angle_deg * RAD_PER_DEG);
    double across = part * semi_minor(ellipse) * sin(angle_deg * RAD_PER_DEG);
    double turn = ellipse->turn_deg + atan2(across, along) * DEG_PER_RAD;
    double ra, dec;
    radec_offset(&ra, &dec, ellipse->ra_deg, ellipse->dec_deg, turn, hypot(along, across));
    vector_from_radec(v, ra, dec);
}

void ellipse_plane_make(struct ellipse_plane *plane, const struct sky_ellipse *ellipse)
{
    double ra = ellipse->ra_deg * RAD_PER_DEG, dec = ellipse->dec_deg * RAD_PER_DEG;
    double turn = (ellipse->turn_deg - ellipse->outline->turn_deg) * RAD_PER_DEG;
    double east[3] = {-sin(ra), cos(ra), 0};
    double north[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    vector_from_radec(plane->centre, ellipse->ra_deg, ellipse->dec_deg);
    for (int i = 0; i < 3; i++) {
        plane->north[i] = cos(turn) * north[i] + sin(turn) * east[i];
        plane->east[i] = cos(turn) * east[i] - sin(turn) * north[i];
    }
}

void ellipse_plane_direction(double v[3], const struct ellipse_plane *plane, double xi, double eta)
{
    double length = sqrt(1 + xi * xi + eta * eta);
    for (int i = 0; i < 3; i++) {
        v[i] = (plane->centre[i] + xi * plane->east[i] + eta * plane->north[i]) / length;
    }
}

static bool outline_holds(const struct sky_ellipse *ellipse, const double v[3])
{
    struct ellipse_plane plane;
    ellipse_plane_make(&plane, ellipse);
    double depth = vector_dot(v, plane.centre);
    return depth > 0.1 && outline_contains(ellipse->outline, vector_dot(v, plane.east) / depth,
                                           vector_dot(v, plane.north) / depth);
}

double ellipse_reach_deg(const struct sky_ellipse *ellipse)
{
    return ellipse->outline ? fmax(ellipse->outline->reach_deg, ellipse->major_deg)
                            : ellipse->major_deg;
}

enum { RIM_POINTS = 72, RINGS = 6, GRID = 32 };

int ellipse_rim(double rim[ELLIPSE_RIM_MOST][3], const struct sky_ellipse *ellipse)
{
    struct ellipse_plane plane;
    if (!ellipse->outline) {
        for (int i = 0; i < RIM_POINTS; i++) {
            ellipse_direction(rim[i], ellipse, 1, 360.0 * i / RIM_POINTS);
        }
        return RIM_POINTS;
    }
    const struct outline_line *hull = ellipse->outline->hull;
    ellipse_plane_make(&plane, ellipse);
    for (int i = 0; i < hull->count; i++) {
        ellipse_plane_direction(rim[i], &plane, hull->point[i].xi, hull->point[i].eta);
    }
    return hull->count;
}

/* The middles of a grid's cells over the hull, those that lie within. */
static int outline_area(double inner[ELLIPSE_AREA_MOST][3], const struct sky_ellipse *ellipse)
{
    const struct outline_line *hull = ellipse->outline->hull;
    struct ellipse_plane plane;
    double left = INFINITY, right = -INFINITY, low = INFINITY, high = -INFINITY;
    int count = 0;
    ellipse_plane_make(&plane, ellipse);
    for (int i = 0; i < hull->count; i++) {
        left = fmin(left, hull->point[i].xi);
        right = fmax(right, hull->point[i].xi);
        low = fmin(low, hull->point[i].eta);
        high = fmax(high, hull->point[i].eta);
    }
    for (int i = 0; i < GRID * GRID; i++) {
        double xi = left + (right - left) * (i % GRID + 0.5) / GRID;
        double eta = low + (high - low) * (i / GRID + 0.5) / GRID;
        if (outline_contains(ellipse->outline, xi, eta)) {
            ellipse_plane_direction(inner[count++], &plane, xi, eta);
        }
    }
    return count;
}

/* Rings of equal area, each with the same number of points, so that each point counts alike. */
int ellipse_area(double inner[ELLIPSE_AREA_MOST][3], const struct sky_ellipse *ellipse)
{
    int count = 0;
    if (ellipse->outline) {
        return outline_area(inner, ellipse);
    }
    for (int ring = 0; ring < RINGS; ring++) {
        double part = sqrt((ring + 0.5) / RINGS);
        for (int i = 0; i < RIM_POINTS; i++) {
            ellipse_direction(inner[count++], ellipse, part, 360 * (i + 0.5) / RIM_POINTS);
        }
    }
    return count;
}

bool ellipse_contains(const struct sky_ellipse *ellipse, const double v[3])
{
    if (ellipse->outline) {
        return outline_holds(ellipse, v);
    }
    double ra, dec;
    vector_to_radec(&ra, &dec, v);
    double distance = radec_angle_deg(ellipse->ra_deg, ellipse->dec_deg, ra, dec);
    double turn = radec_position_angle_deg(ellipse->ra_deg, ellipse->dec_deg, ra, dec);
    double angle = (turn - ellipse->turn_deg) * RAD_PER_DEG;
    double along = distance * cos(angle), across = distance * sin(angle);
    double a = ellipse->major_deg, b = semi_minor(ellipse);
    return a > 0 && b > 0 && along * along / (a * a) + across * across / (b * b) <= 1;
}
