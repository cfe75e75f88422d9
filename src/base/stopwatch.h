/* base/stopwatch.h: time that passes, whatever is done to the clock meanwhile. */
#ifndef ALIDADE_BASE_STOPWATCH_H
#define ALIDADE_BASE_STOPWATCH_H

/* Seconds since some moment, never running backwards (POSIX CLOCK_MONOTONIC). */
double stopwatch_s(void);

/* The same in milliseconds. */
double stopwatch_ms(void);

#endif
