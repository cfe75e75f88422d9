/* demo/camera.h: how much light a camera collects, and how faint it therefore sees. */
#ifndef ALIDADE_DEMO_CAMERA_H
#define ALIDADE_DEMO_CAMERA_H

struct camera {
    double focal_mm, f_number, pixel_um;
    double exposure_s;
    /* Electrons a second for each square centimetre of aperture from a star of V = 0, after lens,
     * colour filters, sensor and a hazy suburban air. */
    double throughput;
    double sky_mag;      /* brightness of the sky, V magnitudes a square arcsecond */
    double fwhm_px;      /* of a star, lens and seeing and focus together, without the trail */
    double read_noise_e; /* a pixel, with the fixed pattern */
    int stacked;         /* exposures averaged; 0 and 1: one */
};

/* A ten-year-old crop-sensor camera with a 250 mm lens wide open at f/4 for 2 s, moonlit suburb. */
struct camera camera_typical(void);

double camera_scale_arcsec(const struct camera *camera);         /* per px */
double camera_star_e(const struct camera *camera, double v_mag); /* electrons in one exposure */
double camera_sky_e(const struct camera *camera); /* electrons a pixel in one exposure */

/* Length of a trail at a declination on a fixed tripod: 15.041 arcsec/s times cos(dec). */
double camera_trail_px(const struct camera *camera, double dec_deg);

/* Pixels whose noise counts when a star is weighed with its own profile (a Gaussian drawn out to a
 * trail): 4 pi sigma^2 for a round star. */
double camera_star_area_px(const struct camera *camera, double trail_px);

/* Flux over its noise, and the V magnitude that has a given one. Inverse of each other. */
double camera_snr(const struct camera *camera, double v_mag, double trail_px);
double camera_limit_mag(const struct camera *camera, double snr, double trail_px);

#endif
