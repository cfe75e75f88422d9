#include "cli/occasion_options.h"

#include "base/text.h"
#include "sky/rates.h"

#include <string.h>
#include <time.h>

bool occasion_options_read_pressure(void *member, const char *text)
{
    struct occasion_number *pressure = member;
    pressure->given =
        text_read_double(&pressure->value, text) && pressure->value >= 0 && pressure->value <= 1100;
    return pressure->given;
}

int occasion_options_check(const struct occasion_settings *settings, int frames, struct error *err)
{
    struct utc utc;
    if (!settings->taken) {
        return 0;
    }
    if (!time_read(&utc, settings->taken)) {
        return error_set(err, ERROR_USAGE,
                         "--time: expected a time of 1800 to 2200 like 2026-02-24T20:30:00+01:00, "
                         "not \"%s\"",
                         settings->taken);
    }
    if (frames > 1) {
        return error_set(err, ERROR_USAGE, "--time tells when one frame was taken, not %d", frames);
    }
    return 0;
}

struct utc occasion_options_today(void)
{
    const struct utc unix_start = {UNIX_EPOCH_JD, 0};
    return time_add(unix_start, (double)time(NULL));
}
