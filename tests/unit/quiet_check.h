/* tests/unit/quiet_check.h: Check's assertions without a word for each that holds. The Makefile has
 * every unit test include it first.
 *
 * Check notes file and line of each assertion that holds, with a write to a file, so that a crash
 * can be told to be behind it. Tests that assert a million times spend half of their time on that.
 * Without it a crash is told to be behind the start of its test. */
#ifndef ALIDADE_TESTS_QUIET_CHECK_H
#define ALIDADE_TESTS_QUIET_CHECK_H

#include <check.h>

#pragma GCC system_header /* as check.h, which is no ISO C either */

#undef ck_assert_msg
#define ck_assert_msg(expr, ...)                                                                   \
    ((expr)                                                                                        \
         ? (void)0                                                                                 \
         : _ck_assert_failed(__FILE__, __LINE__, "Assertion '" #expr "' failed", ##__VA_ARGS__))

#endif
