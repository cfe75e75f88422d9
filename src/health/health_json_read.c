#include "health/health.h"

#include <math.h>
#include <string.h>

static enum frame_kind kind_of(const char *key)
{
    for (int kind = KIND_LIGHT; key && kind <= KIND_SCENE; kind++) {
        if (strcmp(key, frame_kind_key((enum frame_kind)kind)) == 0) {
            return (enum frame_kind)kind;
        }
    }
    return KIND_LIGHT;
}

static unsigned faults_of(const struct json_node *list)
{
    unsigned faults = 0;
    const struct json_node *element;
    for (int i = 0; (element = json_read_element(list, i)); i++) {
        const char *key = json_node_string(element);
        for (int fault = 0; key && fault < HEALTH_FAULTS; fault++) {
            if (strcmp(key, health_fault_key((enum health_fault)fault)) == 0) {
                faults |= 1U << fault;
            }
        }
    }
    return faults;
}

static int count_of(const struct json_node *object, const char *key)
{
    long long count = json_read_integer(object, key, 0);
    return count > 0 && count < 1000000000 ? (int)count : 0;
}

static double or_zero(double value)
{
    return isfinite(value) ? value : 0;
}

static void read_shape(struct frame_health *h, const struct json_node *object)
{
    const struct json_node *corners = json_read_member(object, "fwhm_corners_px");
    const struct json_node *trail = json_read_member(object, "trail");
    const struct json_node *twice = json_read_member(object, "double");
    h->shapes = count_of(object, "stars_fitted");
    h->fwhm_px = json_read_number(object, "fwhm_px");
    h->fwhm_arcsec = json_read_number(object, "fwhm_arcsec");
    h->fwhm_middle_px = json_read_number(object, "fwhm_middle_px");
    for (int i = 0; i < 4; i++) {
        h->fwhm_corner_px[i] = json_node_number(json_read_element(corners, i));
    }
    h->elongation = json_read_number(object, "elongation");
    h->trail_px = json_read_number(trail, "length_px");
    h->trail_angle_deg = json_read_number(trail, "angle_deg");
    h->drift_px = json_read_number(trail, "drift_px");
    h->drift_angle_deg = json_read_number(trail, "drift_angle_deg");
    h->motion_px = json_read_number(trail, "unexplained_px");
    h->motion_angle_deg = json_read_number(trail, "unexplained_angle_deg");
    h->follows = json_read_bool(trail, "follows_sky", false);
    h->limit_exposure_s = json_read_number(trail, "limit_exposure_s");
    h->double_px = or_zero(json_read_number(twice, "distance_px"));
    h->double_angle_deg = or_zero(json_read_number(twice, "angle_deg"));
    h->double_share = or_zero(json_read_number(twice, "share"));
}

static void read_light(struct frame_health *h, const struct json_node *object)
{
    const struct json_node *sky = json_read_member(object, "sky");
    h->sky_level = json_read_number(sky, "level");
    h->sky_share = json_read_number(sky, "full_share");
    h->black_known = json_read_bool(sky, "black_known", false);
    h->sky_mag = json_read_number(sky, "mag_arcsec2");
    h->linear = json_read_bool(object, "linear", false);
    h->saturated_share = or_zero(json_read_number(object, "saturated_share"));
    h->zero_mag = json_read_number(object, "zero_mag");
    h->zero_error = json_read_number(object, "zero_error");
    h->zero_stars = count_of(object, "zero_stars");
    h->colour_term = json_read_number(object, "colour_term");
    h->limit_mag = json_read_number(object, "limit_mag");
    h->vignetting = json_read_number(object, "vignetting");
    h->uneven_mag = json_read_number(object, "uneven_mag");
    h->expected = count_of(object, "stars_expected");
    h->missing_share = json_read_number(object, "missing_share");
    h->hidden_share = json_read_number(object, "hidden_share");
}

void health_read_json(struct frame_health *health, const struct json_node *object)
{
    memset(health, 0, sizeof *health);
    health->limits = health_usual();
    health->exposure_s = (double)NAN;
    health->look.kind = kind_of(json_read_string(object, "kind"));
    health->faults = faults_of(json_read_member(object, "faults"));
    read_shape(health, object);
    read_light(health, object);
}
