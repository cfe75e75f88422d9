/* tripod/clock_doubt.h: signs that the camera's clock is wrong, in a frame that shows stars: mostly
 * by the hour of summer time or of another zone. */
#ifndef ALIDADE_TRIPOD_CLOCK_DOUBT_H
#define ALIDADE_TRIPOD_CLOCK_DOUBT_H

#include "tripod/stand.h"

#include <stdbool.h>
#include <stddef.h>

enum clock_doubt_by {
    CLOCK_DOUBT_NONE,
    CLOCK_DOUBT_FUTURE, /* taken later than now by the clock of this computer */
    CLOCK_DOUBT_SUN,    /* the Sun would have been up */
    CLOCK_DOUBT_GROUND, /* the camera would have looked into the ground */
    CLOCK_DOUBT_LEVEL,  /* the camera would have leaned, and hours later or earlier was level */
    CLOCK_DOUBT_COMES,  /* frames come as they are taken, but not when */
    CLOCK_DOUBT_PLAN,   /* it is the night before or after the one that was planned */
    CLOCK_DOUBTS
};

/* All zeros: there is no doubt. */
struct clock_doubt {
    enum clock_doubt_by by;
    double fast_s;    /* so far ahead of the time the clock seems to be; NAN: not known how far */
    double shown_deg; /* SUN, GROUND: altitude by the clock, of the Sun or of the middle of the
                         picture; LEVEL: how far from level its side or its upper edge would be */
};

/* How well cameras on tripods are levelled, one deviation, where nobody says: common practice, no
 * source. */
#define CLOCK_DOUBT_HELD_DEG 1.0

/* What a frame of stars says of the clock; the strongest sign first.
 *
 * Future: more than 5 minutes after now; NULL if that is not known.
 * Sun: higher than 6 degrees below the horizon. Ground: the middle of the picture more than 3
 * degrees below it. Level: the camera's side, or its upper edge, is 6 deviations (held_deg each)
 * off level or more, and an hour earlier or later it would be turned about the line of sight by no
 * more than 1.5. Of cameras towards south or north within 40 degrees, at latitudes up to 45, held
 * to half a deviation, 85 % of clocks an hour off are noticed; towards east and west none is. Of
 * cameras turned on purpose, by any angle, 6 % are doubted with a clock that is right; of 4,000
 * levelled to one deviation, or to two, none is.
 *
 * stand: its time as the clock has it; all but the first want a place. */
void clock_doubt_find(struct clock_doubt *doubt, const struct stand *stand, const struct utc *now,
                      double held_deg);

/* "the camera's clock seems an hour ahead (summer time?): by it the camera leans 8°, else ...",
 * without a full stop; "" without a doubt. UTF-8, cut to size. */
void clock_doubt_write(char *out, size_t size, const struct clock_doubt *doubt);

/* " (an hour)", " (2 days)" for so many seconds, of either sign, that are nearly whole hours or
 * days: by these clocks are set wrong; "" for all others. UTF-8, cut to size. */
void clock_doubt_write_whole(char *out, size_t size, double seconds);

/* What five frames say that came as fast as they were taken (night/arrivals.h), lag_s after it by
 * the camera's clock: more than 15 minutes, or before they were taken by more than 5, but less than
 * three days. */
void clock_doubt_of_lag(struct clock_doubt *doubt, double lag_s);

/* What a plan of the night says: the frame was taken so long after its hours began and ended, and
 * by a clock a day on or back it was taken in them, or less than 2 hours from them. Whoever knows
 * that the clock is right, or that the plan is of another night, need not ask. */
void clock_doubt_of_plan(struct clock_doubt *doubt, double after_begin_s, double after_end_s);

/* For machines: "none", "future", "sun", "ground", "level", "comes", "plan". */
const char *clock_doubt_key(enum clock_doubt_by by);

#endif
