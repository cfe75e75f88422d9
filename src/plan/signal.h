/* plan/signal.h: how many frames lift a faint object out of the noise.
 *
 * Per pixel and frame the object leaves t electrons, the sky s, reading r (rms): its signal to
 * noise is t / sqrt(t + s + r^2), and grows with the square root of the number of frames (common
 * practice; photon noise is Poisson's). */
#ifndef ALIDADE_PLAN_SIGNAL_H
#define ALIDADE_PLAN_SIGNAL_H

#include "objects/objects.h"

#include <stdbool.h>

/* One frame as noise sees it, from a lens and a sky or measured in a test frame. */
struct signal_frame {
    double zero_mag;     /* magnitude of what gives one electron a second */
    double scale_arcsec; /* a side of a pixel */
    double exposure_s;
    double sky_mag;    /* magnitudes a square arcsecond, with the Moon's light */
    double read_noise; /* electrons, rms */
};

/* Where not told: electrons of reading noise, and of photons that enter the lens the share that is
 * counted, after haze, glass, colour filters and silicon (common practice, no source). */
#define SIGNAL_READ_NOISE 4.0
#define SIGNAL_EFFICIENCY 0.1

/* zero_mag of a lens. A star of V = 0 sends 8.8e5 photons a second through a square centimetre
 * (handbook value, from memory). */
double signal_zero_mag(double focal_mm, double f_number, double efficiency);

/* Sky brightness of a class of 1..9, magnitudes a square arcsecond (common practice, no source). */
double signal_bortle_mag(double bortle);

/* The sky's brightness with the Moon's light added: Krisciunas & Schaefer 1991, PASP 103, 1033, eq.
 * 15, 20, 21 (from memory; about a quarter off at best). lit: 0..1; angles in degrees. A Moon below
 * the horizon adds nothing. */
double signal_moonlit_mag(double sky_mag, double lit, double moon_altitude_deg, double altitude_deg,
                          double separation_deg);

/* Mean brightness of an object over its outline, magnitudes a square arcsecond, and about how far
 * off that may be (one sigma). Nebulae without a magnitude count as 22.5; where the magnitude's
 * band is not known, it is about one. False for what is no patch of light: stars, clusters of them,
 * dark nebulae, objects without a size. */
bool signal_surface(double *mag, double *sigma_mag, const struct object *object);

struct signal {
    double target_e, sky_e, noise_e; /* a pixel and frame */
    double once;                     /* signal to noise a pixel in one frame */
    double read_share;               /* of the noise's variance */
};

void signal_measure(struct signal *signal, const struct signal_frame *frame, double surface_mag);

/* What a frame of the target's night tells, as health_measure finds it. Values are the file's. */
struct signal_test {
    double noise;        /* of a pixel, rms */
    double sky;          /* its level, over that without light */
    double zero_mag;     /* magnitude of what gives one a second */
    double scale_arcsec; /* a side of a pixel */
    double exposure_s;
    double read_noise; /* electrons, rms */
};

/* The frame in electrons. A value is worth g of them: the noise's variance in values is sky / g +
 * (read_noise / g)^2, solved for g, which it returns (photon transfer, Janesick 2001, Scientific
 * Charge-Coupled Devices, ch. 2, from memory; here from one frame, since the reading noise is
 * told). 0 for what cannot be: no noise, no exposure, a sky below black, or something unknown
 * (NAN). */
double signal_from_test(struct signal_frame *frame, const struct signal_test *test);

/* Signal to noise a pixel in a mean of so many frames, and the frames that reach one, at least 1.
 * Inverse of each other. */
double signal_stack(const struct signal *signal, double frames);
double signal_frames(const struct signal *signal, double wanted);

/* What frames like one will make of a patch of light. */
struct signal_outlook {
    struct signal_frame frame;
    double surface_mag, sigma_mag; /* of the patch, and how far off that may be (one sigma) */
    struct signal signal;
    double wanted;                          /* signal to noise a pixel */
    double frames, frames_low, frames_high; /* that reach it, and one sigma around */
};

/* From frame, surface_mag, sigma_mag and wanted, the rest. */
void signal_foresee(struct signal_outlook *outlook);

/* Frames that reach what is wanted under a sky darker by so many magnitudes, with exposures so many
 * times as long, with so many times the light in the lens. */
double signal_frames_if(const struct signal_outlook *outlook, double darker_mag, double longer,
                        double faster);

#endif
