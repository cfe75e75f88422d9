#include "health/health.h"

#include <math.h>

static void add_verdict(struct json *json, const struct frame_health *h)
{
    char words[240];
    health_write_verdict(words, sizeof words, h);
    json_string(json, "verdict", health_verdict_key(h));
    json_string(json, "says", words);
    json_open(json, "faults", '[');
    for (int fault = 0; fault < HEALTH_FAULTS; fault++) {
        if (h->faults & 1U << fault) {
            json_string(json, NULL, health_fault_key((enum health_fault)fault));
        }
    }
    json_close(json, ']');
    json_string(json, "kind", frame_kind_key(h->look.kind));
}

static void add_shape(struct json *json, const struct frame_health *h)
{
    json_integer(json, "stars_fitted", h->shapes);
    json_number(json, "fwhm_px", h->fwhm_px, 3);
    json_number(json, "fwhm_arcsec", h->fwhm_arcsec, 3);
    json_number(json, "fwhm_middle_px", h->fwhm_middle_px, 3);
    json_open(json, "fwhm_corners_px", '[');
    for (int i = 0; i < 4; i++) {
        json_number(json, NULL, h->fwhm_corner_px[i], 3);
    }
    json_close(json, ']');
    json_number(json, "elongation", h->elongation, 3);
    json_open(json, "trail", '{');
    json_number(json, "length_px", h->trail_px, 2);
    json_number(json, "angle_deg", h->trail_angle_deg, 1);
    json_number(json, "drift_px", h->drift_px, 2);
    json_number(json, "drift_angle_deg", h->drift_angle_deg, 1);
    json_number(json, "unexplained_px", h->motion_px, 2);
    json_number(json, "unexplained_angle_deg", h->motion_angle_deg, 1);
    json_bool(json, "follows_sky", h->follows);
    json_number(json, "limit_exposure_s", h->limit_exposure_s, 4);
    json_close(json, '}');
    if (h->double_px > 0) {
        json_open(json, "double", '{');
        json_number(json, "distance_px", h->double_px, 2);
        json_number(json, "angle_deg", h->double_angle_deg, 1);
        json_number(json, "share", h->double_share, 3);
        json_close(json, '}');
    }
}

static void add_light(struct json *json, const struct frame_health *h)
{
    json_open(json, "sky", '{');
    json_number(json, "level", h->sky_level, 4);
    json_number(json, "full_share", h->sky_share, 5);
    json_bool(json, "black_known", h->black_known);
    json_number(json, "mag_arcsec2", h->sky_mag, 3);
    json_close(json, '}');
    json_bool(json, "linear", h->linear);
    json_number(json, "saturated_share", h->saturated_share, 5);
    json_number(json, "zero_mag", h->zero_mag, 3);
    json_number(json, "zero_error", h->zero_error, 3);
    json_integer(json, "zero_stars", h->zero_stars);
    json_number(json, "colour_term", h->colour_term, 3);
    json_number(json, "limit_mag", h->limit_mag, 2);
    json_number(json, "vignetting", h->vignetting, 3);
    json_number(json, "uneven_mag", h->uneven_mag, 2);
    json_integer(json, "stars_expected", h->expected);
    json_number(json, "missing_share", h->missing_share, 3);
    json_number(json, "hidden_share", h->hidden_share, 3);
}

void health_write_json(struct json *json, const struct frame_health *h)
{
    json_open(json, "health", '{');
    add_verdict(json, h);
    add_shape(json, h);
    add_light(json, h);
    json_close(json, '}');
}
