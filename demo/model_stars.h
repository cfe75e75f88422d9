/* demo/model_stars.h: star lists as a detector would make them, without pixels; for trying the
 * matcher thousands of times a second. */
#ifndef ALIDADE_DEMO_MODEL_STARS_H
#define ALIDADE_DEMO_MODEL_STARS_H

#include "base/error.h"
#include "demo/lens.h"
#include "demo/starfield.h"
#include "sky/wcs.h"
#include "stars/stars.h"

#include <stdint.h>

/* Zero means none, or what the comment says. */
struct model_options {
    struct lens lens;                     /* scale, size, axis, distortion, mirrored */
    double ra_deg, dec_deg, up_angle_deg; /* of the picture's middle, ICRS; as lens_wcs */
    double exposure_s; /* trails of 15.041"/s cos(dec) towards the sky's own west; 0: round */
    double position_noise_px; /* deviation in x and in y; along a trail a tenth of it is added */
    double mag_noise;
    double colour_term; /* the camera sees V - term * ((B-V) - 0.6) */
    double flux_power;  /* flux is raised to it, as a stretched picture does; 0: 1 */
    double limit_mag;   /* camera magnitude; 0: as deep as max_stars needs */
    int max_stars;      /* the brightest so many; 0: all */
    double spurious;    /* share of the final list that is no star, 0 <= spurious < 1 */
    double missing;     /* share of the listed stars that are not detected, 0..1 */
    double blend_px;    /* of two stars closer than this the fainter is lost in the brighter */
    bool only_listed;   /* no made-up stars */
    uint64_t seed;      /* of the noise; the sky has its own */
};

/* Starts as all zeros; may be used again for the next list without being freed. */
struct model_stars {
    struct star_list list; /* brightest first */
    uint32_t *hip;         /* of each star in the list; 0: spurious or not listed */
    struct wcs truth;
    double limit_mag;     /* that was used */
    struct sky_view view; /* room kept for the next list */
    int capacity;
};

/* ERROR_MEMORY only. */
int model_star_list(struct model_stars *model, const struct starfield *field,
                    const struct model_options *options, struct error *err);
void model_stars_free(struct model_stars *model);

#endif
