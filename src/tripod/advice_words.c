/* The sentences of the advice. */
#include "base/units.h"
#include "objects/caption.h"
#include "tripod/advice.h"

#include <math.h>
#include <stdio.h>

/* A move smaller than this part of the picture is none: hands are no finer. */
static const double none_part = 0.015;

/* Degrees, as the scales of tripod heads have them. */
static void write_degrees(char *out, size_t size, double angle_deg)
{
    double angle = fabs(angle_deg);
    snprintf(out, size, angle < 0.995 ? "%.2f°" : "%.1f°", angle);
}

/* Near the zenith a pan hardly moves the picture. */
static bool is_pan_small(const struct advice *advice, double pan_deg)
{
    double altitude = advice->has_horizon ? advice->target_altitude_deg : 0;
    return fabs(pan_deg) * cos(altitude * RAD_PER_DEG) < none_part * advice->aim.field_width_deg;
}

static bool is_tilt_small(const struct advice *advice, double tilt_deg)
{
    return fabs(tilt_deg) < none_part * advice->aim.field_height_deg;
}

bool advice_is_still(const struct advice *advice, const struct head_move *move)
{
    return is_pan_small(advice, move->pan_deg) && is_tilt_small(advice, move->tilt_deg);
}

void advice_write_move(char *out, size_t size, const struct advice *advice,
                       const struct head_move *move)
{
    char across[24], along[24], first[48] = "", second[48] = "";
    bool pan = !is_pan_small(advice, move->pan_deg), tilt = !is_tilt_small(advice, move->tilt_deg);
    const char *tilt_word = advice->has_horizon ? "tilt" : pan ? "then" : "turn";
    write_degrees(across, sizeof across, move->pan_deg);
    write_degrees(along, sizeof along, move->tilt_deg);
    if (pan) {
        snprintf(first, sizeof first, "%s %s %s", advice->has_horizon ? "pan" : "turn", across,
                 move->pan_deg < 0 ? "left" : "right");
    }
    if (tilt) {
        snprintf(second, sizeof second, "%s %s %s", tilt_word, along,
                 move->tilt_deg < 0 ? "down" : "up");
    }
    snprintf(out, size, "%s%s%s", first, pan && tilt ? ", " : "",
             pan || tilt ? second : "leave the camera as it is");
}

double advice_pan_growth(double altitude_deg)
{
    return 1 / cos(fmin(altitude_deg, 89) * RAD_PER_DEG);
}

const char *advice_direction_word(double azimuth_deg)
{
    static const char *const words[16] = {
        "north", "north-north-east", "north-east", "east-north-east",
        "east",  "east-south-east",  "south-east", "south-south-east",
        "south", "south-south-west", "south-west", "west-south-west",
        "west",  "west-north-west",  "north-west", "north-north-west"};
    return words[(lround(azimuth_deg / 22.5) % 16 + 16) % 16];
}

/* "Rigel (85 % across, 12 % down)" */
static void write_star(char *out, size_t size, const struct cue_star *star, const struct wcs *wcs)
{
    char name[80];
    if (star->object) {
        caption_full(name, sizeof name, star->object);
    } else {
        snprintf(name, sizeof name, "the star of magnitude %.1f", star->mag);
    }
    snprintf(out, size, "%s (%.0f %% across, %.0f %% down)", name,
             100 * (star->x + 0.5) / wcs->width, 100 * (star->y + 0.5) / wcs->height);
}

void advice_write_cue(char *out, size_t size, const struct cue *cue, const struct wcs *wcs)
{
    char star[140], mark[140];
    write_star(star, sizeof star, cue->star, wcs);
    if (cue->mark) {
        write_star(mark, sizeof mark, cue->mark, wcs);
        snprintf(out, size, "%s should go to where %s is now", star, mark);
    } else {
        snprintf(out, size, "%s should go to %.0f %% across, %.0f %% down", star,
                 100 * (cue->to_x + 0.5) / wcs->width, 100 * (cue->to_y + 0.5) / wcs->height);
    }
}
