#include "plan/signal_words.h"

#include <math.h>
#include <stdio.h>

/* What is asked of the alternatives: magnitudes, and factors of time and light. */
static const double darker_mag = 1, longer = 2, faster = 2;

/* A surface that is only taken for a usual one is farther off than this. */
static const double guessed_sigma_mag = 0.8;

/* Of fewer frames none need be saved. */
static const double few_frames = 10;

/* To two digits: no more is known. */
static double rounded(double frames)
{
    double unit = pow(10, fmax(0, floor(log10(fmax(frames, 1))) - 1));
    return round(frames / unit) * unit;
}

void signal_write_ratio(char *out, size_t size, double ratio)
{
    snprintf(out, size, ratio < 99.5 ? "%.2g" : "%.0f", ratio);
}

void signal_write_wanted(char *out, size_t size, const struct signal_outlook *outlook)
{
    double frames = rounded(outlook->frames);
    bool guessed = outlook->sigma_mag > guessed_sigma_mag;
    snprintf(out, size, "S/N %.3g takes %.0f frame%s (%.0f to %.0f: %s)", outlook->wanted, frames,
             frames > 1 ? "s" : "", rounded(outlook->frames_low), rounded(outlook->frames_high),
             guessed ? "its brightness is not catalogued, a typical one is assumed"
                     : "catalogued brightness is rough");
}

void signal_write_noise(char *out, size_t size, const struct signal_outlook *outlook)
{
    const struct signal *signal = &outlook->signal;
    double variance = signal->noise_e * signal->noise_e;
    double sky = 100 * signal->sky_e / variance, reading = 100 * signal->read_share;
    double own = 100 * signal->target_e / variance;
    if (own > fmax(sky, reading)) {
        snprintf(out, size,
                 "its own light makes %.0f %% of the noise, the sky %.0f %%, read noise %.0f %%",
                 own, sky, reading);
    } else if (reading > sky) {
        snprintf(out, size, "read noise makes %.0f %% of the noise, the sky %.0f %%", reading, sky);
    } else {
        snprintf(out, size, "the sky makes %.0f %% of the noise, read noise %.0f %%", sky, reading);
    }
}

void signal_write_instead(char *out, size_t size, const struct signal_outlook *outlook)
{
    out[0] = '\0';
    if (outlook->frames < few_frames) {
        return;
    }
    snprintf(
        out, size,
        "instead of %.0f frames: %.0f of twice the exposure, %.0f with a lens one stop faster, "
        "%.0f under a sky 1 mag darker",
        rounded(outlook->frames), rounded(signal_frames_if(outlook, 0, longer, 1)),
        rounded(signal_frames_if(outlook, 0, 1, faster)),
        rounded(signal_frames_if(outlook, darker_mag, 1, 1)));
}

void signal_put(struct json *json, const struct signal_outlook *outlook)
{
    const struct signal *signal = &outlook->signal;
    schema_put_number(json, "surface_mag_arcsec2", outlook->surface_mag);
    schema_put_number(json, "surface_sigma_mag", outlook->sigma_mag);
    schema_put_number(json, "sky_mag_arcsec2", outlook->frame.sky_mag);
    schema_put_number(json, "target_e", signal->target_e);
    schema_put_number(json, "sky_e", signal->sky_e);
    schema_put_number(json, "read_noise_e", outlook->frame.read_noise);
    schema_put_number(json, "read_noise_share", signal->read_share);
    schema_put_number(json, "snr_once", signal->once);
    schema_put_number(json, "snr_wanted", outlook->wanted);
    schema_put_number(json, "frames_needed", outlook->frames);
    schema_put_number(json, "frames_low", outlook->frames_low);
    schema_put_number(json, "frames_high", outlook->frames_high);
    schema_open(json, "frames_if");
    schema_put_number(json, "exposure_x2", signal_frames_if(outlook, 0, longer, 1));
    schema_put_number(json, "lens_stop_faster", signal_frames_if(outlook, 0, 1, faster));
    schema_put_number(json, "sky_mag_darker", signal_frames_if(outlook, darker_mag, 1, 1));
    schema_close(json);
}
