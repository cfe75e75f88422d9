/* sky/skyline.h: what roofs, trees and hills hide at a place: altitudes by azimuth.
 *
 * Azimuths are degrees from true north through east, altitudes degrees above the horizon as seen
 * through the air. */
#ifndef ALIDADE_SKY_SKYLINE_H
#define ALIDADE_SKY_SKYLINE_H

#include <stdbool.h>
#include <stddef.h>

enum { SKYLINE_POINTS = 240 };

struct skyline_point {
    double azimuth_deg;  /* 0 to 360, the latter excluded */
    double altitude_deg; /* -10 to 90; NAN: not known from the point before to the one behind */
};

/* All zeros: nothing is known to stand there. Between two points the line is straight, across north
 * too; two points at one azimuth are a wall, the first of them on its left. */
struct skyline {
    struct skyline_point point[SKYLINE_POINTS]; /* in the order of azimuths */
    int points;
};

/* Adds a point; false if there is no room, or it is out of range. */
bool skyline_add(struct skyline *skyline, double azimuth_deg, double altitude_deg);

/* Adds points from a text: "0:12 45:20 S:8 270:-", azimuth and altitude of each, with blanks or
 * commas between; a point of the compass may stand for the azimuth, and "-" for an altitude that
 * is not known. False, with nothing added, for anything else. Inverse: skyline_write. */
bool skyline_read(struct skyline *skyline, const char *text);

/* As many of the points from one on as go into size bytes, altitudes to a tenth; returns the number
 * of the next one. */
int skyline_write(char *out, size_t size, const struct skyline *skyline, int from);

/* What hides the sky in that direction reaches up to here; NAN where nothing is known. At a wall
 * its upper end. */
double skyline_altitude(const struct skyline *skyline, double azimuth_deg);

/* Whether what stands at that azimuth and altitude is behind it. */
bool skyline_hides(const struct skyline *skyline, double azimuth_deg, double altitude_deg);

#endif
