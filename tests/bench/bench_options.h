/* tests/bench/bench_options.h: options that the programs that measure share. */
#ifndef ALIDADE_TESTS_BENCH_OPTIONS_H
#define ALIDADE_TESTS_BENCH_OPTIONS_H

#include "base/options.h"
#include "tests/bench/bench_common.h"

#include <stddef.h>
#include <stdio.h>

/* Rows of a table of options, for a struct settings with members of these names. */
#define BENCH_INDEX_OPTION                                                                         \
    {                                                                                              \
        "index", 0, OPTION_TEXT, "FILE", "Default build/hipparcos.alidx.",                         \
            offsetof(struct settings, index), 0, 0, false, NULL, NULL                              \
    }
#define BENCH_THREADS_OPTION                                                                       \
    {                                                                                              \
        "threads", 0, OPTION_INTEGER, "N", "Default: one a processor.",                            \
            offsetof(struct settings, threads), 1, 256, false, NULL, NULL                          \
    }
#define BENCH_NUMBERS_OPTION                                                                       \
    {                                                                                              \
        "numbers", 0, OPTION_TEXT, "FILE", "Append the numbers to this file.",                     \
            offsetof(struct settings, numbers), 0, 0, false, NULL, NULL                            \
    }

#define BENCH_FIRST_OPTION                                                                         \
    {                                                                                              \
        "first", 0, OPTION_INTEGER, "N", "Begin with this one (default 0).",                       \
            offsetof(struct settings, first), 0, 1000000000, false, NULL, NULL                     \
    }
/* What pictures are called, and how many there are where nobody says: two texts. */
#define BENCH_EACH_OPTION(what, usual)                                                             \
    {                                                                                              \
        "each", 0, OPTION_INTEGER, "N", what " of each kind (default " usual ").",                 \
            offsetof(struct settings, each), 1, 100000, false, NULL, NULL                          \
    }
#define BENCH_LIST_OPTION                                                                          \
    {                                                                                              \
        "list", 0, OPTION_FLAG, NULL, "Name each picture.", offsetof(struct settings, list), 0, 0, \
            false, NULL, NULL                                                                      \
    }
#define BENCH_FAILED_OPTION                                                                        \
    {                                                                                              \
        "failed", 0, OPTION_FLAG, NULL, "Say which lists failed.",                                 \
            offsetof(struct settings, failed), 0, 0, false, NULL, NULL                             \
    }

/* Reads the options; false after help was printed, which begins with about. Ends the program when
 * they are wrong. */
static inline bool bench_start(void *settings, const struct option_row *rows, int argc, char **argv,
                               const char *about)
{
    struct option_operands rest;
    struct error err = {0};
    bench_require(options_parse(settings, &rest, rows, argc, argv, &err), &err);
    if (rest.help) {
        printf("usage: %s\n\n", about);
        options_write_help(stdout, rows, 80);
    }
    return !rest.help;
}

#endif
