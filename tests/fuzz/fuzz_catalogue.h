/* tests/fuzz/fuzz_catalogue.h: any bytes as a star catalogue: reading must return, with stars or
 * with a sentence. */
#ifndef ALIDADE_TESTS_FUZZ_CATALOGUE_H
#define ALIDADE_TESTS_FUZZ_CATALOGUE_H

#include "catalogue.h"
#include "fuzz_file.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

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
        fuzz_check(size % 4 < 2 ? &plain : &moving);
    }
}

#endif
