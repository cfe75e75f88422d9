#include "jobs/occasion.h"

#include "base/text.h"
#include "image/moment.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* What the clock is set to where the file states the time in UTC: in words if its zone has that
 * offset. */
static void find_stated_zone(struct occasion *occasion, struct utc shown, const struct zone *zone)
{
    double ahead_s = time_between(occasion->start, shown);
    occasion->zone = (struct zone_kind){.ahead_s = (int)lround(ahead_s / 60) * 60};
    occasion->has_zone = true;
    if (zone && zone_at(zone, occasion->start)->ahead_s == occasion->zone.ahead_s) {
        occasion->zone = *zone_at(zone, occasion->start);
    }
}

static void find_zone_time(struct occasion *occasion, struct utc shown, const struct zone *zone)
{
    occasion->start = shown;
    occasion->has_utc = occasion->has_zone = zone != NULL;
    if (zone) {
        occasion->shows = zone_to_utc(&occasion->start, zone, shown);
        occasion->zone = *zone_at(zone, occasion->start);
    }
}

static void find_time(struct occasion *occasion, const struct frame_facts *facts,
                      const struct rig *rig, const struct occasion_settings *settings)
{
    const struct time_stamp *taken = settings->taken.known ? &settings->taken : NULL;
    const struct time_stamp *local = taken ? taken : &facts->start_local;
    const struct time_stamp *utc = taken ? taken : &facts->start_utc;
    const struct zone *zone = rig_clock(rig, facts->camera);
    struct utc shown = local->utc;
    occasion->has_clock = local->known && !local->zoned;
    occasion->has_utc = utc->known && utc->zoned && !(rig->zone && occasion->has_clock);
    occasion->start = utc->utc;
    if (occasion->has_utc && occasion->has_clock) {
        find_stated_zone(occasion, shown, zone);
    } else if (occasion->has_clock) {
        find_zone_time(occasion, shown, zone);
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

/* What the settings file says of a place counts where the frame's GPS is this near to it. */
static const double same_place_m = 200;

static bool is_same_place(const struct place *place, const struct rig_place *other)
{
    const double m_per_deg = 111200; /* of a great circle on the Earth's mean sphere */
    double apart_deg = radec_angle_deg(place->longitude_deg, place->latitude_deg,
                                       other->longitude_deg, other->latitude_deg);
    return apart_deg * m_per_deg < same_place_m;
}

static void find_skyline(struct occasion *occasion, const struct rig_place *rig_place)
{
    bool told = occasion->has_place && rig_place && rig_place->skyline.points;
    if (told && is_same_place(&occasion->place, rig_place)) {
        occasion->skyline = &rig_place->skyline;
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
    find_time(occasion, facts, rig, settings);
    find_place(occasion, facts, rig->place, rig->place_named);
    find_skyline(occasion, rig->place);
    occasion->place.temperature_c = settings->temperature_c;
    occasion->place.pressure_hpa = settings->pressure_hpa.given
                                       ? settings->pressure_hpa.value
                                       : horizon_usual_pressure(occasion->place.height_m);
}

int occasion_find_known(struct occasion *occasion, const struct frame_facts *facts,
                        const struct rig *rig, const struct occasion_settings *settings,
                        struct error *err)
{
    occasion_find(occasion, facts, rig, settings);
    if (settings->taken.known && !occasion->has_utc) {
        char text[40];
        time_stamp_write(text, sizeof text, &settings->taken);
        error_set(err, ERROR_USAGE, "%s: it is not said of which zone that time is", text);
        return error_remedied(err, ERROR_USAGE, REMEDY_ZONE);
    }
    return 0;
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

void occasion_write_zone(char *out, size_t size, const struct occasion *occasion)
{
    out[0] = '\0';
    if (occasion->has_zone) {
        zone_write(out, size, &occasion->zone);
    } else if (occasion->has_utc && !occasion->has_clock) {
        snprintf(out, size, "UTC");
    }
}

void occasion_write_usual_zone(char *out, size_t size, const struct rig *rig, struct utc today)
{
    const struct zone *zone = rig_clock(rig, "");
    out[0] = '\0';
    if (zone) {
        zone_write(out, size, zone_at(zone, today));
    }
}

void occasion_write_change(char *out, size_t size, const struct occasion *occasion)
{
    char word[24];
    zone_write_word(word, sizeof word, &occasion->zone);
    out[0] = '\0';
    if (occasion->shows == ZONE_TWICE) {
        snprintf(out, size,
                 "it showed that time twice, as clocks went back: the first, %s, is taken", word);
    } else if (occasion->shows == ZONE_NEVER) {
        snprintf(out, size, "clocks went forward past that time: taken as if it had not");
    }
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
