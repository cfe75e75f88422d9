/* Runs every suite: the list is made by the Makefile from the names of the test files. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SUITE(name) Suite *name##_suite(void);
#include "tests/unit/suites.inc"
#undef SUITE

static const struct {
    const char *name;
    Suite *(*make)(void);
} table[] = {
#define SUITE(name) {#name, name##_suite},
#include "tests/unit/suites.inc"
#undef SUITE
};

/* With arguments: only the suites named. */
static int is_wanted(const char *name, int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], name) == 0) {
            return 1;
        }
    }
    return argc < 2;
}

/* CFITSIO 4.2 loses the bytes of a tile that doesn't unpack; no leak of ours is to hide behind. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:imcomp_decompress_tile";
}

int main(int argc, char **argv)
{
    SRunner *runner = NULL;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        if (!is_wanted(table[i].name, argc, argv)) {
            continue;
        }
        if (runner) {
            srunner_add_suite(runner, table[i].make());
        } else {
            runner = srunner_create(table[i].make());
        }
    }
    if (!runner) {
        fprintf(stderr, "no suite of that name\n");
        return EXIT_FAILURE;
    }
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
