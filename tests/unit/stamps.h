/* Times as texts, for tests. */
#ifndef ALIDADE_TEST_STAMPS_H
#define ALIDADE_TEST_STAMPS_H

#include "sky/time.h"

#include <check.h>

/* Holds what a time is printed as against a text; "" for one that is not known. */
static inline void assert_stamp(struct time_stamp stamp, const char *want)
{
    char text[40];
    time_stamp_write(text, sizeof text, &stamp);
    ck_assert_str_eq(text, want);
}

static inline void assert_same_stamp(struct time_stamp a, struct time_stamp b)
{
    char text[40];
    time_stamp_write(text, sizeof text, &b);
    assert_stamp(a, text);
}

static inline struct time_stamp make_stamp(const char *text)
{
    struct time_stamp stamp;
    time_stamp_read(&stamp, text);
    return stamp;
}

#endif
