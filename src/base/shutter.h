/* base/shutter.h: the exposures that a camera can be set to. */
#ifndef ALIDADE_BASE_SHUTTER_H
#define ALIDADE_BASE_SHUTTER_H

#include <stdbool.h>
#include <stddef.h>

enum { SHUTTER_MOST = 64 };

/* Seconds, longest first. All zeros: thirds of a stop as they stand on cameras, 30 s to 1/1000 s
 * (common practice, no source). */
struct shutter {
    double s[SHUTTER_MOST];
    int count;
};

/* The longest exposure that is no longer than that, but for a hundredth; the shortest if all are
 * longer. */
double shutter_within(const struct shutter *shutter, double seconds);

/* Reads "30, 15, 8, 1, 1/2, 1/4" in any order. False, leaving *shutter alone, if that is not what
 * it is: a number that is not positive, or none, or more than SHUTTER_MOST. */
bool shutter_read(struct shutter *shutter, const char *text);

/* "1.6 s", "1/4 s": as cameras show it. */
void shutter_write(char *out, size_t size, double seconds);

#endif
