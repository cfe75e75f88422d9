/* sky/observer.h: who looks at the sky: ERFA's parameters of a place and a moment. */
#ifndef ALIDADE_SKY_OBSERVER_H
#define ALIDADE_SKY_OBSERVER_H

#include "sky/horizon.h"

#include <erfa.h>
#include <stdbool.h>

/* Of an observer at a place, NULL for the Earth's centre; without air. UT1 is taken for UTC. False
 * if the time is one that ERFA refuses. */
bool observer_make(eraASTROM *observer, const struct place *place, struct utc utc);

/* Terrestrial time, which stands for barycentric dynamical time too. False as above. */
bool observer_time(double tt[2], struct utc utc);

#endif
