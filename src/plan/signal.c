#include "plan/signal.h"

#include "base/units.h"

#include <math.h>

/* Photons a second and square centimetre from V = 0. */
static const double zero_photons = 8.8e5;

/* Of a nebula without a catalogued magnitude; the range of those that are photographed. */
static const double usual_nebula_mag = 22.5, usual_nebula_sigma = 1;

/* What a mean over the outline leaves out: its edge is a matter of taste. */
static const double edge_sigma = 0.4;

/* Of a magnitude that may be photographic or a cluster's: planetary nebulae are off by 0.4 in the
 * median and 1.3 at worst. */
static const double unknown_band_sigma = 1;

static const double extinction = 0.25; /* magnitudes an air mass; a suburb's */

double signal_zero_mag(double focal_mm, double f_number, double efficiency)
{
    double aperture_cm = focal_mm / f_number / 10;
    double electrons = zero_photons * efficiency * PI / 4 * aperture_cm * aperture_cm;
    return 2.5 * log10(electrons);
}

double signal_bortle_mag(double bortle)
{
    static const double mag[] = {22.0, 21.9, 21.8, 21.1, 20.0, 19.2, 18.7, 18.2, 17.7};
    double place = fmin(fmax(bortle, 1), 9) - 1;
    int i = place < 8 ? (int)place : 7;
    return mag[i] + (mag[i + 1] - mag[i]) * (place - i);
}

/* Nanolamberts; ibid. eq. 27. */
static double nanolamberts(double mag)
{
    return 34.08 * exp(20.7233 - 0.92104 * mag);
}

static double air_mass(double altitude_deg)
{
    double sine_z = cos(altitude_deg * RAD_PER_DEG);
    return 1 / sqrt(1 - 0.96 * sine_z * sine_z);
}

double signal_moonlit_mag(double sky_mag, double lit, double moon_altitude_deg, double altitude_deg,
                          double separation_deg)
{
    if (moon_altitude_deg <= 0 || lit <= 0) {
        return sky_mag;
    }
    double phase = acos(fmin(1, 2 * lit - 1)) * DEG_PER_RAD;
    double moon = pow(10, -0.4 * (3.84 + 0.026 * phase + 4e-9 * pow(phase, 4)));
    double cosine = cos(separation_deg * RAD_PER_DEG);
    double scattered =
        pow(10, 5.36) * (1.06 + cosine * cosine) + pow(10, 6.15 - separation_deg / 40);
    double light = scattered * moon * pow(10, -0.4 * extinction * air_mass(moon_altitude_deg)) *
                   (1 - pow(10, -0.4 * extinction * air_mass(fmax(altitude_deg, 0))));
    return sky_mag - 2.5 * log10(1 + light / nanolamberts(sky_mag));
}

static bool is_nebula(enum object_type type)
{
    return type >= OBJECT_EMISSION_NEBULA && type <= OBJECT_SUPERNOVA_REMNANT;
}

bool signal_surface(double *mag, double *sigma_mag, const struct object *object)
{
    bool patch = is_nebula(object->type) || object->type == OBJECT_GALAXY ||
                 object->type == OBJECT_GLOBULAR_CLUSTER;
    double area = object_area_arcmin2(object) * 3600;
    if (!patch || !(area > 0) || (isnan(object->magnitude) && !is_nebula(object->type))) {
        return false;
    }
    bool known = !isnan(object->magnitude);
    *mag = known ? object->magnitude + 2.5 * log10(area) : usual_nebula_mag;
    double error = isnan(object->magnitude_error) ? unknown_band_sigma : object->magnitude_error;
    *sigma_mag = known ? hypot(edge_sigma, error) : usual_nebula_sigma;
    return true;
}

void signal_measure(struct signal *signal, const struct signal_frame *frame, double surface_mag)
{
    double pixel = frame->scale_arcsec * frame->scale_arcsec * frame->exposure_s;
    double read_variance = frame->read_noise * frame->read_noise;
    signal->target_e = pixel * pow(10, 0.4 * (frame->zero_mag - surface_mag));
    signal->sky_e = pixel * pow(10, 0.4 * (frame->zero_mag - frame->sky_mag));
    double variance = signal->target_e + signal->sky_e + read_variance;
    signal->noise_e = sqrt(variance);
    signal->once = signal->target_e / signal->noise_e;
    signal->read_share = read_variance / variance;
}

double signal_from_test(struct signal_frame *frame, const struct signal_test *test)
{
    double variance = test->noise * test->noise,
           read_variance = test->read_noise * test->read_noise;
    double gain =
        (test->sky + sqrt(test->sky * test->sky + 4 * variance * read_variance)) / (2 * variance);
    if (!(variance > 0 && test->sky >= 0 && test->exposure_s > 0 && test->scale_arcsec > 0 &&
          gain > 0 && isfinite(gain) && isfinite(test->zero_mag))) {
        return 0;
    }
    double area = test->scale_arcsec * test->scale_arcsec;
    *frame = (struct signal_frame){
        .zero_mag = test->zero_mag + 2.5 * log10(gain),
        .scale_arcsec = test->scale_arcsec,
        .exposure_s = test->exposure_s,
        .sky_mag = test->zero_mag - 2.5 * log10(test->sky / test->exposure_s / area),
        .read_noise = test->read_noise,
    };
    return gain;
}

double signal_stack(const struct signal *signal, double frames)
{
    return signal->once * sqrt(frames);
}

double signal_frames(const struct signal *signal, double wanted)
{
    double ratio = wanted / signal->once;
    return fmax(1, ceil(ratio * ratio - 1e-9));
}

void signal_foresee(struct signal_outlook *outlook)
{
    struct signal off;
    double *end[] = {&outlook->frames_low, &outlook->frames_high};
    signal_measure(&outlook->signal, &outlook->frame, outlook->surface_mag);
    outlook->frames = signal_frames(&outlook->signal, outlook->wanted);
    for (int i = 0; i < 2; i++) {
        double fainter_mag = (i ? 1 : -1) * outlook->sigma_mag;
        signal_measure(&off, &outlook->frame, outlook->surface_mag + fainter_mag);
        *end[i] = signal_frames(&off, outlook->wanted);
    }
}

double signal_frames_if(const struct signal_outlook *outlook, double darker_mag, double longer,
                        double faster)
{
    struct signal_frame frame = outlook->frame;
    struct signal other;
    frame.sky_mag += darker_mag;
    frame.exposure_s *= longer;
    frame.zero_mag += 2.5 * log10(faster);
    signal_measure(&other, &frame, outlook->surface_mag);
    return signal_frames(&other, outlook->wanted);
}
