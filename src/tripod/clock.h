/* tripod/clock.h: what the camera's clock has to do with the advice, and whether it is right. */
#ifndef ALIDADE_TRIPOD_CLOCK_H
#define ALIDADE_TRIPOD_CLOCK_H

#include "tripod/head.h"

#include <stdbool.h>

/* How far from the target the line of sight ends, in degrees, if the head is moved as advice from a
 * clock that is fast by error_s has it. target: ICRS. Needs a place. */
double clock_cost_deg(const struct stand *stand, const struct head *head, const double target[3],
                      double error_s);

struct clock_fault {
    double fast_s;  /* the clock is ahead of the time by this */
    double error_s; /* of that, one deviation */
};

/* If the camera was level, its right side pointed to the horizon: the clock that makes it so,
 * nearest to the one that is shown, within two hours. level_deg: how far from level its lower edge
 * may have been, one deviation.
 * False where the camera's roll tells little of the time (error_s would exceed half an hour: it
 * looks east or west, or the place is near a pole), or none fits. Needs a place. */
bool clock_from_level(struct clock_fault *fault, const struct stand *stand, double level_deg);

/* If the head was level, its pan axis pointed to the zenith: a lean to the west means a fast clock.
 */
bool clock_from_pan(struct clock_fault *fault, const struct head_lesson *pan,
                    const struct place *place, double level_deg);

#endif
