/* tests/unit/sample.h: how many cases a test tries that draws them by lot. */
#ifndef ALIDADE_TESTS_SAMPLE_H
#define ALIDADE_TESTS_SAMPLE_H

#include <stdlib.h>

/* So many, times SAMPLE_TIMES where that is set: SAMPLE_TIMES=10 build/tests/unit/run solve. The
 * sanitizers, which look for other faults and take ten times as long, try a quarter. What a test
 * says of single cases holds of each; what it says of shares is weaker the fewer there are, and
 * measured over thousands in tests/bench. */
static inline int sample(int usual)
{
    const char *times = getenv("SAMPLE_TIMES");
    int cases = (int)(usual * (times ? atof(times) : 1));
    return cases > 2 ? cases : 2;
}

#endif
