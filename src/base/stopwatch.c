#include "base/stopwatch.h"

#include <time.h>

double stopwatch_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

double stopwatch_ms(void)
{
    return stopwatch_s() * 1e3;
}
