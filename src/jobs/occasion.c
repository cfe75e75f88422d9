#include "jobs/occasion.h"

#include "base/text.h"
#include "image/moment.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Whether a time says which zone it is of. */
static bool has_zone(const char *text)
{
    const char *clock = strpbrk(text, "T ");
    return clock && strpbrk(clock, "Z+-");
}

/* How far the camera's clock is ahead of UTC, minutes; NAN if nobody says. */
static double find_zone(const struct rig_place *place, const struct occasion_settings *settings)
{
    if (settings->zone.given) {
        return settings->zone.value;
    }
    return place ? place->utc_offset_min : NAN;
}

static void find_time(struct occasion *occasion, const struct frame_facts *facts, double zone_min,
                      const struct occasion_settings *settings)
{
    const char *local = settings->taken && !has_zone(settings->taken) ? settings->taken
                        : settings->taken                             ? ""
                                                                      : facts->start_local;
    const char *utc = settings->taken && has_zone(settings->taken) ? settings->taken
                      : settings->taken                            ? ""
                                                                   : facts->start_utc;
    struct utc shown;
    occasion->has_clock = *local && time_read(&shown, local);
    occasion->has_utc =
        *utc && !(settings->zone.given && occasion->has_clock) && time_read(&occasion->start, utc);
    if (!occasion->has_utc && occasion->has_clock) {
        occasion->has_utc = isfinite(zone_min);
        occasion->start = occasion->has_utc ? time_add(shown, -60 * zone_min) : shown;
    }
    occasion->has_time = occasion->has_utc || occasion->has_clock;
    if (occasion->has_time) {
        occasion->start = time_add(occasion->start, -settings->clock_fast_s);
        occasion->mid = time_add(occasion->start, occasion->exposure_s / 2);
    }
    if (occasion->has_clock) {
        occasion->clock_ahead_s = time_between(occasion->start, shown);
    }
}

static void find_place(struct occasion *occasion, const struct frame_facts *facts,
                       const struct rig_place *rig_place, bool place_chosen)
{
    bool gps = facts->latitude_deg.origin != FACT_UNKNOWN &&
               facts->longitude_deg.origin != FACT_UNKNOWN &&
               fabs(facts->latitude_deg.value) <= 90 && fabs(facts->longitude_deg.value) <= 360;
    occasion->has_place = gps || rig_place;
    if (rig_place && (place_chosen || !gps)) {
        occasion->place = (struct place){.latitude_deg = rig_place->latitude_deg,
                                         .longitude_deg = rig_place->longitude_deg,
                                         .height_m = rig_place->height_m};
        occasion->place_source = place_chosen ? "as given" : "from the settings file";
    } else if (gps) {
        bool high = facts->height_m.origin != FACT_UNKNOWN;
        occasion->place = (struct place){.latitude_deg = facts->latitude_deg.value,
                                         .longitude_deg = facts->longitude_deg.value,
                                         .height_m = high ? facts->height_m.value : 0};
        occasion->place_source = "from the frame's GPS";
    }
}

void occasion_find(struct occasion *occasion, const struct frame_facts *facts,
                   const struct rig *rig, const struct occasion_settings *settings)
{
    *occasion = (struct occasion){.today = settings->today};
    if (facts->exposure_s.origin != FACT_UNKNOWN && facts->exposure_s.value > 0) {
        occasion->exposure_s = facts->exposure_s.value;
    }
    find_time(occasion, facts, find_zone(rig->place, settings), settings);
    find_place(occasion, facts, rig->place, rig->place_named);
    occasion->place.temperature_c = settings->temperature_c;
    occasion->place.pressure_hpa = settings->pressure_hpa.given
                                       ? settings->pressure_hpa.value
                                       : horizon_usual_pressure(occasion->place.height_m);
}

bool occasion_has_horizon(const struct occasion *occasion)
{
    return occasion->has_place && occasion->has_utc;
}

bool occasion_ground(struct ground *ground, const struct occasion *occasion, bool with_place)
{
    struct utc when = occasion->mid;
    if (!occasion->has_time) {
        when = occasion->today;
    }
    bool horizon = with_place && occasion_has_horizon(occasion);
    return ground_make(ground, horizon ? &occasion->place : NULL, when);
}

void occasion_write_clock(char *out, size_t size, const struct occasion *occasion, double later_s)
{
    char text[40];
    out[0] = '\0';
    if (!occasion->has_time) {
        return;
    }
    time_write(
        text, sizeof text,
        time_add(occasion->mid, later_s + (occasion->has_clock ? occasion->clock_ahead_s : 0)), 0);
    text[19] = '\0';
    snprintf(out, size, "%s%s", text + 11, occasion->has_clock ? "" : " UTC");
}

void occasion_write_date(char *out, size_t size, const struct occasion *occasion)
{
    char start[40];
    out[0] = '\0';
    if (occasion->has_time) {
        time_write(start, sizeof start, occasion->start, 0);
        snprintf(out, size, "%.10s %.8s%s", start, start + 11,
                 occasion->has_utc ? " UTC" : ", camera's clock");
    }
}
