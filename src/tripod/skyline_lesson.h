/* tripod/skyline_lesson.h: the skyline of a place, from catalogue stars that show and others that
 * roofs and trees hide. */
#ifndef ALIDADE_TRIPOD_SKYLINE_LESSON_H
#define ALIDADE_TRIPOD_SKYLINE_LESSON_H

#include "base/error.h"
#include "sky/skyline.h"

#include <stdbool.h>

/* A star that a frame should show. */
struct skyline_star {
    double azimuth_deg, altitude_deg; /* as seen through the air, in the frame's exposure */
    bool seen;
    /* Of stars as bright as this one, the share that shows in open sky, and beside an edge, where
     * what hides the sky makes it uneven; 0 to 1, the latter excluded, the second no larger. */
    double share, share_beside;
};

struct skyline_lesson {
    struct skyline skyline; /* with what was not learned left open */
    double known_deg;       /* of azimuth */
    double error_deg;       /* how far off its edge is, rms; NAN: nothing is known */
    double highest_deg, highest_azimuth_deg;
};

/* Lays the line between what is hidden and what is seen: with nodes every 2 degrees of azimuth, the
 * mean of all lines as they are probable, if hardly any star shows in front of a roof, of those
 * above it as many as their shares say (between the two within 2 degrees of it), and a change of
 * altitude by a degree makes a line half as probable. Of five rendered frames of 20 mm, half of
 * that is right to 0.3 degrees, and more than 9 tenths to 1 degree, walls included, whatever stars
 * stand there. Where no hidden star bounds the line from below, or no visible one from above, it
 * stays open. ERROR_MEMORY only. */
int skyline_lesson_find(struct skyline_lesson *lesson, const struct skyline_star *star, int stars,
                        struct error *err);

/* Puts what an earlier skyline knows where the lesson is open; the lesson's figures stay its own.
 */
void skyline_lesson_unite(struct skyline_lesson *lesson, const struct skyline *before);

#endif
