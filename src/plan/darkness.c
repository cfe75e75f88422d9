#include "plan/darkness.h"

#include "base/clamp.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

double dark_span_hours(const struct dark_span *span)
{
    return span->any ? time_between(span->start, span->end) / 3600 : 0;
}

/* The noon of the mean Sun that is nearest to 12:00 of the clock. */
static bool find_noon(struct utc *noon, double longitude_deg, int year, int month, int day,
                      double utc_offset_min)
{
    struct utc clock;
    if (!time_from_date(&clock, year, month, day, 12)) {
        return false;
    }
    double solar_s = -angle_wrap_180(longitude_deg) * 240;
    double clock_s = isnan(utc_offset_min) ? solar_s : -utc_offset_min * 60;
    double days = round((clock_s - solar_s) / 86400);
    *noon = time_add(clock, solar_s + days * 86400);
    return true;
}

static void keep_longer(struct dark_span *span, struct utc start, struct utc end)
{
    struct dark_span other = {true, start, end};
    if (dark_span_hours(&other) > dark_span_hours(span)) {
        *span = other;
    }
}

/* The longest time below; close to a polar night there may be two, parted by a short noon. */
static void find_below(struct dark_span *span, const struct darkness *night,
                       const struct sun_moon_track *sun, double altitude_deg)
{
    struct sun_moon_crossing crossing[6];
    int count = sun_moon_crossings(crossing, 6, sun, altitude_deg);
    bool below = sun->altitude_deg[0] < altitude_deg;
    struct utc since = night->noon;
    *span = (struct dark_span){0};
    for (int i = 0; i < count; i++) {
        if (crossing[i].rising && below) {
            keep_longer(span, since, crossing[i].utc);
        }
        below = !crossing[i].rising;
        since = crossing[i].utc;
    }
    if (below) {
        keep_longer(span, since, night->next_noon);
    }
}

static bool find_darkness(struct darkness *night, enum darkness_depth wanted)
{
    static const double altitude[DARKNESS_DEPTHS] = {90, SUN_MOON_RISE_SET, SUN_MOON_CIVIL,
                                                     SUN_MOON_NAUTICAL, SUN_MOON_ASTRONOMICAL};
    struct utc lowest;
    struct sun_moon_track sun;
    if (!sun_moon_track_make(&sun, THE_SUN, &night->place, night->noon, 24)) {
        return false;
    }
    night->below[DARKNESS_NONE] = (struct dark_span){true, night->noon, night->next_noon};
    for (int depth = DARKNESS_SUNSET; depth < DARKNESS_DEPTHS; depth++) {
        find_below(&night->below[depth], night, &sun, altitude[depth]);
        if (night->below[depth].any && depth <= (int)wanted) {
            night->depth = (enum darkness_depth)depth;
        }
    }
    if (night->depth >= DARKNESS_CIVIL) {
        night->dark = night->below[night->depth];
    }
    sun_moon_extreme(&lowest, &night->sun_lowest_deg, true, &sun);
    return true;
}

/* Hours of dark without the Moon. */
static double count_moonless(const struct darkness *night)
{
    bool up = night->moon_at_dusk;
    double seconds = 0;
    struct utc last = night->dark.start;
    for (int i = 0; i < night->moon_events; i++) {
        const struct sun_moon_crossing *event = &night->moon[i];
        if (time_between(night->dark.start, event->utc) > 0 &&
            time_between(event->utc, night->dark.end) > 0) {
            seconds += up ? 0 : time_between(last, event->utc);
            last = event->utc;
            up = event->rising;
        }
    }
    return (seconds + (up ? 0 : time_between(last, night->dark.end))) / 3600;
}

static bool find_moon(struct darkness *night)
{
    struct sun_moon_position moon;
    struct sun_moon_track track;
    struct utc midnight = time_add(night->noon, 43200);
    if (!sun_moon_track_make(&track, THE_MOON, &night->place, night->noon, 24) ||
        !sun_moon_phase(&night->moon_lit, &night->moon_waxing, midnight) ||
        !sun_moon_from_place(&moon, THE_MOON, &night->place,
                             night->dark.any ? night->dark.start : midnight)) {
        return false;
    }
    night->moon_events =
        sun_moon_crossings(night->moon, DARKNESS_MOON_EVENTS, &track, SUN_MOON_RISE_SET);
    night->moon_at_dusk = moon.altitude_deg > SUN_MOON_RISE_SET;
    night->moonless_hours = night->dark.any ? count_moonless(night) : 0;
    return true;
}

bool darkness_find(struct darkness *night, const struct place *place, int year, int month, int day,
                   double utc_offset_min, enum darkness_depth wanted)
{
    memset(night, 0, sizeof *night);
    night->place = *place;
    night->wanted = wanted;
    night->place.pressure_hpa = 0;
    if (!find_noon(&night->noon, place->longitude_deg, year, month, day, utc_offset_min)) {
        return false;
    }
    night->next_noon = time_add(night->noon, 86400);
    return find_darkness(night, wanted) && find_moon(night);
}

const struct dark_span *darkness_whole(const struct darkness *night)
{
    static const struct dark_span none = {0};
    return night->depth >= DARKNESS_CIVIL ? &night->below[night->depth] : &none;
}

bool darkness_limit(struct darkness *night, const struct dark_span *hours)
{
    const struct dark_span *whole = darkness_whole(night);
    struct dark_span part = *whole;
    if (time_between(part.start, hours->start) > 0) {
        part.start = hours->start;
    }
    if (time_between(hours->end, part.end) > 0) {
        part.end = hours->end;
    }
    night->own = *hours;
    night->dark =
        whole->any && time_between(part.start, part.end) > 0 ? part : (struct dark_span){0};
    return find_moon(night);
}

/* Where it stands to the meridian: hour angle in degrees, west positive, and declination of date,
 * at some time; from then on it turns with the sky. */
struct turning {
    struct utc when;
    double hour_deg, dec_deg, latitude_deg;
};

static bool start_turning(struct turning *turning, const struct darkness *night, struct utc when,
                          double ra_deg, double dec_deg)
{
    double azimuth, altitude;
    if (!horizon_from_radec(&azimuth, &altitude, &night->place, when, ra_deg, dec_deg)) {
        return false;
    }
    double latitude = night->place.latitude_deg * RAD_PER_DEG, h = altitude * RAD_PER_DEG;
    double a = azimuth * RAD_PER_DEG;
    double x = sin(h) * cos(latitude) - cos(h) * cos(a) * sin(latitude), y = -cos(h) * sin(a);
    double z = sin(h) * sin(latitude) + cos(h) * cos(a) * cos(latitude);
    *turning = (struct turning){when, atan2(y, x) * DEG_PER_RAD,
                                atan2(z, hypot(x, y)) * DEG_PER_RAD, night->place.latitude_deg};
    return true;
}

/* How far from the meridian it sinks below an altitude: 0 never above, 180 never below. */
static double reach_deg(const struct turning *turning, double altitude_deg)
{
    double latitude = turning->latitude_deg * RAD_PER_DEG, dec = turning->dec_deg * RAD_PER_DEG;
    double across = cos(latitude) * cos(dec), along = sin(latitude) * sin(dec);
    double above = sin(altitude_deg * RAD_PER_DEG) - along;
    if (fabs(above) >= across) {
        return above > 0 ? 0 : 180;
    }
    return acos(above / across) * DEG_PER_RAD;
}

/* Seconds from turning->when to its passage of the meridian nearest to a moment. */
static double transit_near(const struct turning *turning, double seconds)
{
    double first = -turning->hour_deg / SIDEREAL_DEG_S;
    return first + round((seconds - first) / SIDEREAL_DAY_S) * SIDEREAL_DAY_S;
}

/* The longest piece of [0, end_s] within reach of a passage; returns where in it is nearest to
 * one. */
static double longest_piece(double piece[2], const struct turning *turning, double reach,
                            double end_s)
{
    double half_s = reach / SIDEREAL_DEG_S, first = transit_near(turning, 0), best_s = 0;
    piece[0] = piece[1] = 0;
    if (reach >= 180) {
        piece[1] = end_s;
        double transit = transit_near(turning, end_s / 2);
        best_s = clamp(transit, 0, end_s);
    }
    for (int k = -1; reach > 0 && reach < 180 && k <= 2; k++) {
        double transit = first + k * SIDEREAL_DAY_S;
        double start = fmax(0, transit - half_s), end = fmin(end_s, transit + half_s);
        if (end - start > piece[1] - piece[0]) {
            piece[0] = start;
            piece[1] = end;
            best_s = clamp(transit, start, end);
        }
    }
    return best_s;
}

/* The moment at which it is highest. */
static double highest_within(const struct turning *turning, double start_s, double end_s)
{
    double best = start_s, nearest = INFINITY;
    for (int i = 0; i <= 2; i++) {
        double transit = transit_near(turning, start_s + i * (end_s - start_s) / 2);
        double at = clamp(transit, start_s, end_s);
        if (fabs(at - transit) < nearest) {
            nearest = fabs(at - transit);
            best = at;
        }
    }
    return best;
}

/* Where it stands some seconds later: azimuth from north through east. */
static void turned_horizon(double *azimuth_deg, double *altitude_deg, const struct turning *turning,
                           double later_s)
{
    double hour = (turning->hour_deg + later_s * SIDEREAL_DEG_S) * RAD_PER_DEG;
    double latitude = turning->latitude_deg * RAD_PER_DEG, dec = turning->dec_deg * RAD_PER_DEG;
    double x = cos(dec) * cos(hour), z = sin(dec);
    double north = z * cos(latitude) - x * sin(latitude), east = -cos(dec) * sin(hour);
    double up = z * sin(latitude) + x * cos(latitude);
    *azimuth_deg = atan2(east, north) * DEG_PER_RAD;
    *altitude_deg = atan2(up, hypot(east, north)) * DEG_PER_RAD;
}

static bool is_behind(const struct turning *turning, const struct skyline *skyline, double later_s)
{
    double azimuth, altitude;
    turned_horizon(&azimuth, &altitude, turning, later_s);
    return skyline_hides(skyline, azimuth, altitude);
}

/* The moment between two of which one is behind the skyline and the other is not. */
static double find_edge(const struct turning *turning, const struct skyline *skyline, double from_s,
                        double to_s)
{
    bool behind = is_behind(turning, skyline, from_s);
    while (to_s - from_s > 1) {
        double middle = (from_s + to_s) / 2;
        *(is_behind(turning, skyline, middle) == behind ? &from_s : &to_s) = middle;
    }
    return (from_s + to_s) / 2;
}

/* Cuts a piece down to the longest part of it that the skyline leaves. What hides for less than the
 * step may be missed. */
static void cut_by_skyline(double piece[2], struct dark_window *window,
                           const struct turning *turning, const struct skyline *skyline)
{
    const double step_s = 60, from_s = piece[0], until_s = piece[1];
    double since_s = from_s, before_s = from_s;
    bool clear = !is_behind(turning, skyline, from_s);
    piece[1] = from_s;
    while (before_s < until_s) {
        double at_s = fmin(before_s + step_s, until_s);
        bool now = !is_behind(turning, skyline, at_s);
        double edge_s = now == clear ? at_s : find_edge(turning, skyline, before_s, at_s);
        if (clear && edge_s - since_s > piece[1] - piece[0]) {
            piece[0] = since_s;
            piece[1] = edge_s;
        }
        since_s = now && !clear ? edge_s : since_s;
        clear = now;
        before_s = at_s;
    }
    window->behind = until_s > from_s && !(piece[1] > piece[0]);
    window->from_behind = !window->behind && piece[0] > from_s;
    window->goes_behind = !window->behind && piece[1] < until_s;
}

bool dark_window(struct dark_window *window, const struct darkness *night, double ra_deg,
                 double dec_deg, double least_altitude_deg)
{
    const struct dark_span *span = night->dark.any ? &night->dark : &night->below[DARKNESS_NONE];
    struct turning turning;
    memset(window, 0, sizeof *window);
    if (!start_turning(&turning, night, span->start, ra_deg, dec_deg)) {
        return false;
    }
    double end_s = time_between(span->start, span->end), piece[2];
    double best = longest_piece(piece, &turning, reach_deg(&turning, least_altitude_deg), end_s);
    if (night->skyline && night->dark.any) {
        cut_by_skyline(piece, window, &turning, night->skyline);
        best = highest_within(&turning, piece[0], piece[1]);
    }
    bool any = night->dark.any && piece[1] > piece[0];
    if (!any) {
        best = highest_within(&turning, 0, end_s);
    }
    window->span =
        (struct dark_span){any, time_add(span->start, piece[0]), time_add(span->start, piece[1])};
    window->best = time_add(span->start, best);
    window->transit = time_add(span->start, transit_near(&turning, best));
    window->highest_deg = 90 - fabs(turning.latitude_deg - turning.dec_deg);
    window->lowest_deg = fabs(turning.latitude_deg + turning.dec_deg) - 90;
    return horizon_from_radec(&window->best_azimuth_deg, &window->best_altitude_deg, &night->place,
                              window->best, ra_deg, dec_deg);
}
