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

bool occasion_options_read_time(void *member, const char *text)
{
    return time_stamp_read(member, text);
}

int occasion_options_check(const struct occasion_settings *settings, int frames, struct error *err)
{
    if (settings->taken.known && frames > 1) {
        return error_set(err, ERROR_USAGE, "--time is of one frame, not of %d", frames);
    }
    return 0;
}

struct utc occasion_options_today(void)
{
    const struct utc unix_start = {UNIX_EPOCH_JD, 0};
    return time_add(unix_start, (double)time(NULL));
}
