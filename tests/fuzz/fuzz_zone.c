/* Any bytes as a compiled time zone: reading must return, with a zone whose clocks can be asked, or
 * with a sentence. */
#include "sky/zone_file.h"

#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void use(const struct zone *zone)
{
    static const char *const times[] = {"1800-01-01", "1996-10-27T01:00:00", "2026-03-29T02:30:00",
                                        "2200-12-31"};
    char word[40];
    struct utc utc, other;
    for (size_t i = 0; i < sizeof times / sizeof *times; i++) {
        if (!time_read(&utc, times[i])) {
            abort();
        }
        zone_write(word, sizeof word, zone_at(zone, utc));
        zone_to_utc(&other, zone, utc);
        zone_change(&other, zone, utc, time_add(utc, 86400));
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct zone zone;
    struct error err = {0};
    int code = zone_file_parse(&zone, data, size, "input", &err);
    if (code != err.code || (code && err.text[0] == '\0') || (!code && !zone_is_known(&zone))) {
        abort();
    }
    if (!code) {
        use(&zone);
    }
    return 0;
}
