/* plan/zoom.h: which focal length of a zoom suits what is to be in the frame. */
#ifndef ALIDADE_PLAN_ZOOM_H
#define ALIDADE_PLAN_ZOOM_H

#include <stdbool.h>
#include <stddef.h>

/* Why that one. */
enum zoom_reason {
    ZOOM_NONE,     /* the lens is no zoom, or its focal length was given */
    ZOOM_LONGEST,  /* even there enough is left free */
    ZOOM_FITTED,   /* the longest that leaves enough free */
    ZOOM_SHORTEST, /* not even there as much is left free, */
    ZOOM_TOO_LARGE /* or it does not fit at all */
};

/* "fitted"; for machines. */
const char *zoom_reason_key(int reason);

/* How much of the frame's width or height, less its margins, may be filled: the rest is for drift
 * and for what stacking crops (common practice, no source). */
#define ZOOM_FILL 0.7

/* The next shorter focal length that can be set by the marks of a zoom's ring: by millimetres, from
 * 35 mm on by fives, from 100 on by tens; not below shortest_mm. */
double zoom_next_mm(double focal_mm, double shortest_mm);

#endif
