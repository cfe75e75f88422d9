/* stars/blur.h: how wide and how trailed the frame's stars are, from a quick look. */
#ifndef ALIDADE_STARS_BLUR_H
#define ALIDADE_STARS_BLUR_H

#include "base/error.h"
#include "image/frame.h"
#include "stars/profile.h"

#include <stdbool.h>

/* Median second moments of the frame's brightest unsaturated spots; profile_usual if it shows fewer
 * than five. Trails whose direction differs over the frame average to a rounder profile.
 * Same bits on any number of threads. ERROR_MEMORY only. */
int blur_measure(struct profile *p, const struct plane *plane, int threads, struct error *err);

/* Moments of the Gaussian that fits the light about pixel (x, y): weight and result agree
 * (Bernstein & Jarvis 2002, AJ 123, 583, section 3.1). False where nothing star-like is there. */
bool blur_fit(struct profile *p, const struct plane *plane, double sky, int x, int y);

#endif
