/* base/clock.h: how much time has passed. */
#ifndef ALIDADE_BASE_CLOCK_H
#define ALIDADE_BASE_CLOCK_H

/* Seconds on a clock that only advances, whatever the time of day is set to; its zero is anywhere. */
double clock_now_s(void);

#endif
