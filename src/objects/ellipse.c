#include "objects/ellipse.h"

#include "base/units.h"
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
    ellipse->turn_unknown = !turned && ellipse->minor_deg < ellipse->major_deg;
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

bool ellipse_contains(const struct sky_ellipse *ellipse, const double v[3])
{
    double ra, dec;
    vector_to_radec(&ra, &dec, v);
    double distance = radec_angle_deg(ellipse->ra_deg, ellipse->dec_deg, ra, dec);
    double turn = radec_position_angle_deg(ellipse->ra_deg, ellipse->dec_deg, ra, dec);
    double angle = (turn - ellipse->turn_deg) * RAD_PER_DEG;
    double along = distance * cos(angle), across = distance * sin(angle);
    double a = ellipse->major_deg, b = semi_minor(ellipse);
    return a > 0 && b > 0 && along * along / (a * a) + across * across / (b * b) <= 1;
}
