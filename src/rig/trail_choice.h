/* rig/trail_choice.h: how long an exposure may be on a tripod that does not follow the sky. */
#ifndef ALIDADE_RIG_TRAIL_CHOICE_H
#define ALIDADE_RIG_TRAIL_CHOICE_H

#include "base/shutter.h"

#include <stdbool.h>
#include <stddef.h>

/* What the photographer accepts: so many seconds times millimetres of focal length ("500 rule"), or
 * so many pixels of trail. All zeros: the 500 rule (common practice, no source). */
struct trail_choice {
    double rule_mm_s, px; /* one of them, or none, is above 0 */
};

#define TRAIL_USUAL_MM_S 500.0
#define TRAIL_STRICT_MM_S 300.0
#define TRAIL_FINE_PX 3.0

/* What a length of trail depends on. */
struct trail_sight {
    double focal_mm, scale_arcsec; /* a pixel */
    double dec_deg;
};

/* Trail in pixels after so many seconds: the sidereal rate times the cosine of the declination. */
double trail_px_of_seconds(double seconds, double scale_arcsec, double dec_deg);
/* Inverse of trail_px_of_seconds, at most an hour, since at the poles nothing trails. */
double trail_seconds_of_px(double px, double scale_arcsec, double dec_deg);

/* Longest exposure by that choice, which a camera need not have. */
double trail_choice_seconds(const struct trail_choice *choice, const struct trail_sight *sight);
/* The longest that the camera has within it. */
double trail_choice_exposure(const struct trail_choice *choice, const struct shutter *shutter,
                             const struct trail_sight *sight);

/* Reads "500", "300" or another rule of at least 100, "3 px" or another number below 100. False
 * otherwise. Inverse: trail_choice_write. */
bool trail_choice_read(struct trail_choice *choice, const char *text);
/* "500 rule", "3 px of trail". */
void trail_choice_write(char *out, size_t size, const struct trail_choice *choice);

#endif
