#include "demo/camera.h"

#include "base/units.h"
#include "sky/rates.h"

#include <math.h>

struct camera camera_typical(void)
{
    return (struct camera){
        .focal_mm = 250,
        .f_number = 4,
        .pixel_um = 3.7,
        .exposure_s = 2,
        /* Vega sends about 8.8e5 photons a second through a square centimetre in V (handbook value,
         * from memory); a tenth of them count after haze, glass, filters and silicon. */
        .throughput = 0.9e5,
        .sky_mag = 18.3,
        .fwhm_px = 2.8,
        .read_noise_e = 5,
    };
}

static double electrons_per_second(const struct camera *camera, double v_mag)
{
    double aperture_cm = camera->focal_mm / camera->f_number / 10;
    return camera->throughput * PI / 4 * aperture_cm * aperture_cm * pow(10, -0.4 * v_mag);
}

double camera_scale_arcsec(const struct camera *camera)
{
    return 206.264806 * camera->pixel_um / camera->focal_mm;
}

double camera_star_e(const struct camera *camera, double v_mag)
{
    return electrons_per_second(camera, v_mag) * camera->exposure_s;
}

double camera_sky_e(const struct camera *camera)
{
    double scale = camera_scale_arcsec(camera);
    return camera_star_e(camera, camera->sky_mag) * scale * scale;
}

double camera_trail_px(const struct camera *camera, double dec_deg)
{
    return SIDEREAL_ARCSEC_S * camera->exposure_s * cos(dec_deg * RAD_PER_DEG) /
           camera_scale_arcsec(camera);
}

double camera_star_area_px(const struct camera *camera, double trail_px)
{
    double sigma = camera->fwhm_px / 2.3548;
    return 2 * sqrt(PI) * sigma * (trail_px + 2 * sqrt(PI) * sigma);
}

static double frames(const struct camera *camera)
{
    return camera->stacked > 1 ? camera->stacked : 1;
}

/* Variance of the background under a star, electrons squared, all frames together. */
static double background_variance(const struct camera *camera, double trail_px)
{
    double pixel = camera_sky_e(camera) + camera->read_noise_e * camera->read_noise_e;
    return frames(camera) * pixel * camera_star_area_px(camera, trail_px);
}

double camera_snr(const struct camera *camera, double v_mag, double trail_px)
{
    double signal = frames(camera) * camera_star_e(camera, v_mag);
    return signal / sqrt(signal + background_variance(camera, trail_px));
}

double camera_limit_mag(const struct camera *camera, double snr, double trail_px)
{
    double noise = background_variance(camera, trail_px);
    double signal = snr * (snr + sqrt(snr * snr + 4 * noise)) / 2;
    double zero = frames(camera) * camera_star_e(camera, 0);
    return 2.5 * log10(zero / signal);
}
