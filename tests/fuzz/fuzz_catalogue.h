/* tests/fuzz/fuzz_catalogue.h: any bytes as a star catalogue: reading must return, with stars or
 * with a sentence. */
#ifndef ALIDADE_TESTS_FUZZ_CATALOGUE_H
#define ALIDADE_TESTS_FUZZ_CATALOGUE_H

#include "catalogue.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char fuzz_name[256];

static void fuzz_remove_file(void)
{
    unlink(fuzz_name);
}

static int fuzz_write_file(const uint8_t *data, size_t size)
{
    if (!fuzz_name[0]) {
        const char *folder = getenv("TMPDIR");
        snprintf(fuzz_name, sizeof fuzz_name, "%.200s/alidade-fuzz-catalogue-%ld",
                 folder ? folder : "/tmp", (long)getpid());
        atexit(fuzz_remove_file);
    }
    FILE *file = fopen(fuzz_name, "wb");
    if (!file) {
        return 0;
    }
    size_t written = fwrite(data, 1, size, file);
    return fclose(file) == 0 && written == size;
}

/* What is kept must be a direction with a magnitude. */
static void fuzz_use(const struct catalogue *catalogue, const struct catalogue_report *report)
{
    if (catalogue->count != report->used) {
        abort();
    }
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *star = &catalogue->star[i];
        if (star->place[0] == INT32_MIN || star->place[1] == INT32_MIN || star->mag < -30000 ||
            star->mag > 30000) {
            abort();
        }
    }
}

static void fuzz_check(const struct catalogue_columns *columns)
{
    struct catalogue catalogue = {0};
    struct catalogue_report report;
    struct error err = {0};
    int code = catalogue_read(&catalogue, &report, fuzz_name, columns, NULL, NULL, &err);
    if (code != err.code || (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code) {
        fuzz_use(&catalogue, &report);
    }
    catalogue_free(&catalogue);
}

static void fuzz_run(const uint8_t *data, size_t size)
{
    const struct catalogue_columns plain = {.threads = 1};
    const struct catalogue_columns moving = {
        .threads = 1, .to_epoch = 2050, .table = size % 2 ? "2" : NULL};
    if (size > 0 && fuzz_write_file(data, size)) {
        fuzz_check(&plain);
        fuzz_check(&moving);
    }
}

#endif
