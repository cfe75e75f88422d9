/* tripod/advice_error.h: how exact an advice is. */
#ifndef ALIDADE_TRIPOD_ADVICE_ERROR_H
#define ALIDADE_TRIPOD_ADVICE_ERROR_H

#include "tripod/advice.h"

/* What a solution and a head leave open, one sigma. All zeros: nothing is known of that. */
struct advice_doubt {
    double middle_deg; /* of where the picture's middle points, along each of two axes */
    double turn_deg;   /* of the picture about its middle */
    double scale;      /* share */
    double head_deg;   /* of the pan axis, in each of its two directions; 0: not known */
};

/* The same of what is advised; NAN: not known. */
struct advice_error {
    double pan_deg, tilt_deg;   /* of advice_move */
    double now_s, after_s;      /* of when the target leaves or comes; NAN: it does not */
    double smear_s[SMEAR_FITS]; /* NAN also where nothing smears so soon */
    double longest_frames;      /* of how long the longest batch may be */
};

/* Each of the doubts moves all that is advised a little; their squares add up. As advice_find was
 * called, and what it found. False, all of it NAN, if nothing is known. */
bool advice_error_find(struct advice_error *error, const struct advice *advice,
                       const struct stand *stand, const struct head *head,
                       const struct aim_target *target, const struct advice_wish *wish,
                       const struct advice_doubt *doubt);

#endif
