/* tests/unit/near.h: the one comparator of numbers for the unit tests. */
#ifndef ALIDADE_TESTS_NEAR_H
#define ALIDADE_TESTS_NEAR_H

#include <check.h>

/* Fails, printing both values and the unit, unless |got - want| <= tolerance; so NaN fails too. */
#define assert_near(got, want, tolerance, unit)                                                    \
    do {                                                                                           \
        double near_got = (got), near_want = (want), near_tolerance = (tolerance);                 \
        double near_off = near_got - near_want;                                                    \
        ck_assert_msg(near_off <= near_tolerance && -near_off <= near_tolerance,                   \
                      "%s is %.15g, expected %.15g within %.3g (%s)", #got, near_got, near_want,   \
                      near_tolerance, unit);                                                       \
    } while (0)

/* The same for angles in degrees that may differ by whole turns. */
#define assert_near_turn(got, want, tolerance)                                                     \
    do {                                                                                           \
        double turn_got = (got), turn_want = (want);                                               \
        double turn_off = remainder(turn_got - turn_want, 360.0);                                  \
        ck_assert_msg(turn_off <= (tolerance) && -turn_off <= (tolerance),                         \
                      "%s is %.15g, expected %.15g within %.3g (deg, mod 360)", #got, turn_got,    \
                      turn_want, (double)(tolerance));                                             \
    } while (0)

#endif
