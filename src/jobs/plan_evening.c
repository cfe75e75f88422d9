#include "jobs/plan_evening.h"

#include "sky/vector.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* In the evening, before clocks are changed in the night. */
static double zone_offset_min(const struct zone *zone, const struct plan_evening *evening)
{
    const struct plan_date *date = &evening->date;
    struct utc when = evening->now, local;
    if (date->given && time_from_date(&local, date->year, date->month, date->day, 20)) {
        zone_to_utc(&when, zone, local);
    }
    return zone_ahead_min(zone, when);
}

static int refuse_date(const struct plan_date *date, struct error *err)
{
    return error_set(err, ERROR_USAGE, "the night of %04d-%02d-%02d cannot be computed", date->year,
                     date->month, date->day);
}

static double choose_offset(const struct plan_evening *evening, const struct rig *rig)
{
    if (rig_times_zone(rig)) {
        return zone_offset_min(rig_times_zone(rig), evening);
    }
    double solar = angle_wrap_180(rig->place->longitude_deg) * 4;
    return fabs(evening->own_offset_min - solar) < 180 ? evening->own_offset_min
                                                       : round(solar / 60) * 60;
}

static struct plan_date choose_date(const struct plan_evening *evening, double offset_min)
{
    struct plan_date date = evening->date;
    if (!date.given) {
        time_date(&date.year, &date.month, &date.day,
                  time_add(evening->now, offset_min * 60 - 43200));
        date.given = true;
    }
    return date;
}

/* "22:30" at the head of a text; its length, 0 if it is none. */
static int read_hours(double *clock_min, const char *text)
{
    int hours, minutes, length = 0;
    if (!isdigit((unsigned char)text[0]) ||
        sscanf(text, "%2d:%2d%n", &hours, &minutes, &length) != 2 || length < 4 ||
        text[length - 3] != ':') {
        return 0;
    }
    *clock_min = hours * 60 + minutes;
    return minutes >= 0 && minutes < 60 && *clock_min <= 1440 ? length : 0;
}

bool plan_clock_read(struct plan_clock *clock, const char *text)
{
    struct plan_clock read = {.given = true, .now = strcasecmp(text, "now") == 0};
    int length = read.now ? (int)strlen(text) : read_hours(&read.minutes, text);
    const char *zone = text + length;
    read.has_offset = *zone != '\0';
    bool good = length > 0 && (!*zone || strcasecmp(zone, "Z") == 0 ||
                               (strchr("+-", *zone) && time_read_offset(&read.offset_min, zone)));
    if (good) {
        *clock = read;
    }
    return good;
}

/* When the clock shows that in the night, between 12:00 and 12:00. */
static struct utc clock_in_night(const struct plan_clock *clock, const struct plan_evening *evening,
                                 const struct plan_date *date, double offset_min)
{
    char text[40];
    struct utc noon = evening->now;
    snprintf(text, sizeof text, "%04d-%02d-%02dT12:00:00Z", date->year, date->month, date->day);
    time_read(&noon, text);
    double minutes = clock->minutes + (clock->has_offset ? offset_min - clock->offset_min : 0);
    minutes = fmod(minutes - 720 + 2 * 1440, 1440);
    return clock->now ? evening->now : time_add(noon, (minutes - offset_min) * 60);
}

/* Whether now is in the dark of a night for which neither date nor start was given. */
static bool has_begun(const struct darkness *night, const struct plan_evening *evening)
{
    const struct dark_span *whole = darkness_whole(night);
    return !evening->date.given && !evening->from.given && whole->any &&
           time_between(whole->start, evening->now) > 0;
}

static int limit_hours(struct darkness *night, const struct plan_evening *evening,
                       const struct plan_date *date, double offset_min, struct error *err)
{
    struct dark_span own = {true, night->noon, night->next_noon};
    bool begun = has_begun(night, evening);
    bool now = evening->from.now || evening->until.now;
    if (now && !(time_between(night->noon, evening->now) >= 0 &&
                 time_between(evening->now, night->next_noon) >= 0)) {
        return error_set(err, ERROR_USAGE,
                         "the hours cannot %s now: it is not now the night of %04d-%02d-%02d",
                         evening->from.now ? "begin" : "end", date->year, date->month, date->day);
    }
    if (evening->from.given) {
        own.start = clock_in_night(&evening->from, evening, date, offset_min);
    } else if (begun) {
        own.start = evening->now;
    }
    if (evening->until.given) {
        own.end = clock_in_night(&evening->until, evening, date, offset_min);
    }
    if (time_between(own.start, own.end) <= 0) {
        return error_set(err, ERROR_USAGE,
                         "the hours end before %s: a night goes from noon to noon",
                         evening->from.given ? "they begin" : "now, when they begin");
    }
    bool limited = evening->from.given || evening->until.given || begun;
    return !limited || darkness_limit(night, &own) ? 0 : refuse_date(date, err);
}

static int find_night(struct darkness *night, const struct plan_date *date,
                      const struct plan_evening *evening, const struct rig_place *place,
                      double offset_min, struct error *err)
{
    const struct place where = {.latitude_deg = place->latitude_deg,
                                .longitude_deg = place->longitude_deg,
                                .height_m = place->height_m};
    return darkness_find(night, &where, date->year, date->month, date->day, offset_min,
                         evening->darkness)
               ? 0
               : refuse_date(date, err);
}

/* In the morning the night before is over once its dark is. */
static bool is_over(const struct darkness *night, const struct plan_evening *evening)
{
    return has_begun(night, evening) && !evening->until.given &&
           time_between(darkness_whole(night)->end, evening->now) >= 0;
}

int plan_evening_find(struct darkness *night, double *offset_min,
                      const struct plan_evening *evening, const struct rig *rig, struct error *err)
{
    struct plan_evening asked = *evening;
    if (!rig->place) {
        return error_remedied(err, error_set(err, ERROR_USAGE, "a plan needs a place"),
                              REMEDY_PLACE);
    }
    *offset_min = choose_offset(evening, rig);
    struct plan_date date = choose_date(evening, *offset_min);
    int code = find_night(night, &date, evening, rig->place, *offset_min, err);
    if (!code && is_over(night, evening)) {
        struct plan_evening later = *evening;
        later.now = time_add(evening->now, 43200);
        date = choose_date(&later, *offset_min);
        asked.date = date;
        code = find_night(night, &date, evening, rig->place, *offset_min, err);
    }
    night->skyline = rig->place->skyline.points ? &rig->place->skyline : NULL;
    return code ? code : limit_hours(night, &asked, &date, *offset_min, err);
}

void plan_evening_write_place(char *out, size_t size, const struct rig_place *place)
{
    char where[64];
    snprintf(where, sizeof where, "%.2f° %c, %.2f° %c", fabs(place->latitude_deg),
             place->latitude_deg < 0 ? 'S' : 'N', fabs(place->longitude_deg),
             place->longitude_deg < 0 ? 'W' : 'E');
    const char *name = place->entry.name;
    snprintf(out, size, "%s%s%s%s", name, *name ? " (" : "", where, *name ? ")" : "");
}
