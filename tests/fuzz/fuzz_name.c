/* Any bytes as what somebody types for a target, a position, a time, a zone, a skyline. */
#include "fuzz_words.h"
#include "jobs/target.h"
#include "objects/objects.h"
#include "sky/skyline.h"
#include "sky/zone.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { MOST_INPUT = 300 };

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const struct fuzz_words words = {
        {"M 31", "NGC", "IC", "Sh2-", "HIP ", "alpha", "Ori", "Andromeda", "nebula", "Moon", "Sun",
         "83.8,-5.4", "5h35m17s", "-5d23m21s", "5:35:17", "\xc2\xb0", "\xe2\x80\xb2", "+01:00",
         "2026-02-25T18:00:00.25+05:30", "S:8", "270:-", "Jupiter", "M", "Galaxie d'Andromede"},
        24};
    return fuzz_change_words(data, size, most, seed, &words);
}

/* Every name that is not known is held against all that are: with TABLES set, a folder of short
 * tables, that takes no time. */
static const struct objects *objects(void)
{
    static struct objects all;
    struct error err = {0};
    const char *folder = getenv("TABLES");
    if (all.count == 0 && objects_load(&all, folder ? folder : "catalogs", &err)) {
        fprintf(stderr, "%s\n", err.text);
        exit(1);
    }
    return &all;
}

static void find(const char *name)
{
    struct aim_target target = {0};
    struct error err = {0};
    int code = target_find(&target, objects(), name, &err);
    if (code != err.code || (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code && (!memchr(target.name, 0, sizeof target.name) ||
                  (target.moves == WANDERER_NONE && !isfinite(target.shape.ra_deg)))) {
        abort();
    }
}

static void read_times(const char *text)
{
    struct time_stamp stamp;
    struct utc utc;
    double minutes;
    char again[40];
    time_read(&utc, text);
    if (time_read_offset(&minutes, text) && !(fabs(minutes) <= 14 * 60)) {
        abort();
    }
    if (time_stamp_read(&stamp, text)) {
        time_stamp_write(again, sizeof again, &stamp);
        if (!time_stamp_read(&stamp, again)) {
            abort();
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct skyline skyline = {0};
    char *text = size <= MOST_INPUT ? malloc(size + 1) : NULL;
    if (text) {
        memcpy(text, data, size);
        text[size] = '\0';
        find(text);
        read_times(text);
        if (skyline_read(&skyline, text)) {
            volatile double altitude = skyline_altitude(&skyline, 0.5);
            (void)altitude;
        }
    }
    free(text);
    return 0;
}
