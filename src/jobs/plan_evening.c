#include "jobs/plan_evening.h"

#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

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

int plan_evening_find(struct darkness *night, double *offset_min,
                      const struct plan_evening *evening, const struct rig *rig, struct error *err)
{
    const struct rig_place *place = rig->place;
    if (!place) {
        return error_set(err, ERROR_USAGE,
                         "a plan needs a place: give --place LAT,LON, or --place NAME of a "
                         "settings file");
    }
    *offset_min = choose_offset(evening, rig);
    struct plan_date date = choose_date(evening, *offset_min);
    struct place where = {.latitude_deg = place->latitude_deg,
                          .longitude_deg = place->longitude_deg,
                          .height_m = place->height_m};
    if (!darkness_find(night, &where, date.year, date.month, date.day, *offset_min,
                       evening->darkness)) {
        return error_set(err, ERROR_USAGE, "--date: %04d-%02d-%02d cannot be computed", date.year,
                         date.month, date.day);
    }
    night->skyline = place->skyline.points ? &place->skyline : NULL;
    return 0;
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
