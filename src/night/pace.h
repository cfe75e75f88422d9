/* night/pace.h: from frame to frame of a night, and how long a silence is one. */
#ifndef ALIDADE_NIGHT_PACE_H
#define ALIDADE_NIGHT_PACE_H

enum { PACE_GAPS = 32 };

/* Starts as all zeros. Holds no memory of its own. */
struct pace {
    double gap_s[PACE_GAPS]; /* a ring of the latest */
    int gaps;                /* of the whole night */
};

/* Takes in the time from the frame before to this one, both in the middle of the exposure; one of
 * five minutes and more is a pause and does not count. */
void pace_add(struct pace *pace, double gap_s);

/* Seconds from one frame's start to the next: the mean of the latest gaps that are within a second
 * of the median of the last nine, which a pause or a lost frame does not sway. Until there are
 * three, the shorter, or the mean of two that are alike, unless it is a pause: then, and without
 * any, the exposure and a second; 0 if neither is known. */
double pace_cadence_s(const struct pace *pace, double exposure_s);

/* How long no frame may come before that is told: five intervals, at least a minute. cadence_s: 0
 * if it is unknown. */
double pace_quiet_s(double cadence_s);

#endif
