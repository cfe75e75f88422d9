/* stars/stars.h: the star list of a frame. */
#ifndef ALIDADE_STARS_STARS_H
#define ALIDADE_STARS_STARS_H

#include "base/error.h"
#include "image/frame.h"

/* One detected source. Pixels of the displayed picture (not of the binned plane). */
struct star {
    double x, y;       /* flux-weighted centroid: mid-exposure for a streak; px */
    double flux;       /* background-subtracted sum, in units of the plane's values */
    double peak;       /* highest background-subtracted value in the plane */
    double size;       /* rms half-width across the short axis, px */
    double elongation; /* long / short rms width, >= 1 */
    double angle_deg;  /* direction of the long axis: from +x towards +y (down), -90..90 */
    double snr;        /* of a fit of the frame's typical star, against the sky's noise alone */
    int saturated;     /* 1 when the core reached the plane's full value */
};

/* Brightest first (by flux; DETECT_SHARP: by flux times peak). Starts as all zeros; free with
 * star_list_free. */
struct star_list {
    struct star *star;
    int count;
    double width, height;  /* of the displayed picture, px */
    double sky, sky_noise; /* median background and noise of a pixel, in the plane's values */
    int raw_count;         /* sources before non-stars were dropped */
};

/* Recipes for the second and third look; see stars/stars_detect.c for what each is for. */
enum detect_recipe {
    DETECT_PLAIN = 0,
    DETECT_FINE_MESH,
    DETECT_COARSE_MESH,
    DETECT_SHARP, /* for pictures whose stars are no larger than a pixel */
    DETECT_RECIPES
};

struct detect_options {
    enum detect_recipe recipe;
    int max_stars; /* the brightest so many are kept; 0: 4000 */
    int threads;   /* the work is spread over; the list is the same on any number; 0: one */
};

/* Finds stars in the frame's luminance plane: all whose height in the plane, smoothed with the
 * frame's own typical star, is u = 3.95 times the noise there. Smoothed even noise has (2 pi)^-1.5
 * u exp(-u^2 / 2) / (2 w^2) such heights a pixel, w the rms width of the star in pixels of the
 * plane (Bardeen et al. 1986, ApJ 304, 15, appendix; from memory): 36 in a million pixels for w
 * = 1.2, of which those that are like a hot pixel are left out. Few or no stars is a normal outcome
 * (count 0). Time and memory grow as the number of pixels, whatever they show: 4.6 bytes each, and
 * up to 40 bytes for each that stands out, of which there are 8 % at most. The list is the same to the
 * bit on any number of threads. ERROR_MEMORY only. */
int stars_detect(struct star_list *list, const struct frame *frame,
                 const struct detect_options *options, struct error *err);
void star_list_free(struct star_list *list);

/* What several recipes have in common when they look at one frame: its blur, the smoothed plane, the
 * sky and the sources of DETECT_PLAIN, which is found first whatever is wanted. Starts as all zeros;
 * free with star_finder_free. */
struct star_finder {
    struct star_work *work;
};

/* As stars_detect, with what an earlier call has left in the finder; the frame must be the same. */
int star_finder_list(struct star_list *list, struct star_finder *finder, const struct frame *frame,
                     const struct detect_options *options, struct error *err);
void star_finder_free(struct star_finder *finder);

#endif
