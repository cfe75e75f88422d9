#include "plan/season.h"

#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <erfa.h>
#include <math.h>
#include <string.h>

enum { YEAR_DAYS = 366, MOONLESS_DAYS = 90 };

static const double sun_altitude[DARKNESS_DEPTHS] = {90, SUN_MOON_RISE_SET, SUN_MOON_CIVIL,
                                                     SUN_MOON_NAUTICAL, SUN_MOON_ASTRONOMICAL};
static const double day_s = 86400, solar_deg_s = 360.0 / 86400, moon_step_s = 120;

/* The axes of date, which within a year move by less than a minute of arc. */
struct scan {
    const struct darkness *night;
    double to_date[3][3];
    double ra_deg, dec_deg, least_deg; /* of the target, of date */
    double least_s;                    /* that a twilight has to last to count as dark */
};

/* Seconds from the middle of a night. */
struct part {
    double start_s, end_s;
};

static void scan_make(struct scan *scan, const struct darkness *night, double ra_deg,
                      double dec_deg, double least_deg)
{
    double v[3];
    *scan = (struct scan){.night = night, .least_deg = least_deg};
    eraPnm06a(night->noon.day, night->noon.fraction, scan->to_date);
    vector_from_radec(v, ra_deg, dec_deg);
    matrix_apply(v, scan->to_date, v);
    vector_to_radec(&scan->ra_deg, &scan->dec_deg, v);
}

static struct utc middle_of(struct scan *scan, int day)
{
    return time_add(scan->night->noon, (day + 0.5) * day_s);
}

static double sidereal_deg(struct scan *scan, struct utc utc)
{
    return time_sidereal_deg(utc) + scan->night->place.longitude_deg;
}

/* How far from the meridian it passes an altitude: 0 never above, 180 never below. */
static double half_arc_deg(double latitude_deg, double dec_deg, double altitude_deg)
{
    double latitude = latitude_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    double above = sin(altitude_deg * RAD_PER_DEG) - sin(latitude) * sin(dec);
    double across = cos(latitude) * cos(dec);
    if (fabs(above) >= across) {
        return above > 0 ? 0 : 180;
    }
    return acos(above / across) * DEG_PER_RAD;
}

static bool see_sun(double *ra_deg, double *dec_deg, struct scan *scan, struct utc utc)
{
    double v[3], distance_au;
    if (!sun_moon_from_earth(v, &distance_au, THE_SUN, utc)) {
        return false;
    }
    matrix_apply(v, scan->to_date, v);
    vector_to_radec(ra_deg, dec_deg, v);
    return true;
}

/* When the Sun is lowest in a night, and its declination then. */
static bool find_lowest(double *lowest_s, double *dec_deg, struct scan *scan, int day)
{
    struct utc middle = middle_of(scan, day);
    double ra;
    *lowest_s = 0;
    for (int i = 0; i < 2; i++) {
        struct utc when = time_add(middle, *lowest_s);
        if (!see_sun(&ra, dec_deg, scan, when)) {
            return false;
        }
        *lowest_s -= angle_wrap_180(sidereal_deg(scan, when) - ra - 180) / solar_deg_s;
    }
    return true;
}

static double lowest_altitude_deg(struct scan *scan, double dec_deg)
{
    return fabs(scan->night->place.latitude_deg + dec_deg) - 90;
}

static double dark_half_s(struct scan *scan, double sun_dec_deg, int depth)
{
    double latitude = scan->night->place.latitude_deg;
    return (180 - half_arc_deg(latitude, sun_dec_deg, sun_altitude[depth])) / solar_deg_s;
}

/* The deepest twilight that is wanted and lasts long enough to count, civil at least: a night with
 * a minute of the wanted dark is no gap in a season. Empty where there is none. */
static bool find_dark(struct part *dark, struct scan *scan, int day)
{
    double lowest_s, dec;
    int depth = (int)scan->night->wanted;
    if (!find_lowest(&lowest_s, &dec, scan, day)) {
        return false;
    }
    while (depth > DARKNESS_CIVIL && 2 * dark_half_s(scan, dec, depth) < scan->least_s) {
        depth--;
    }
    double half_s = dark_half_s(scan, dec, depth);
    *dark = (struct part){lowest_s - half_s, lowest_s + half_s};
    return true;
}

/* The longest piece of the dark in which the target is up. */
static struct part find_up(struct scan *scan, const struct part *dark, int day)
{
    double place = scan->night->place.latitude_deg;
    double half_s = half_arc_deg(place, scan->dec_deg, scan->least_deg) / SIDEREAL_DEG_S;
    double hour = angle_wrap_180(sidereal_deg(scan, middle_of(scan, day)) - scan->ra_deg);
    struct part best = {0, 0};
    for (int i = -1; i <= 1; i++) {
        double transit_s = -hour / SIDEREAL_DEG_S + i * SIDEREAL_DAY_S;
        double start = fmax(dark->start_s, transit_s - half_s);
        double end = fmin(dark->end_s, transit_s + half_s);
        if (end - start > best.end_s - best.start_s) {
            best = (struct part){start, end};
        }
    }
    return half_s * SIDEREAL_DEG_S >= 180 ? *dark : best;
}

/* Above the horizon as rising and setting count, seen from the place. */
static bool is_moon_up(bool *up, struct scan *scan, struct utc utc)
{
    const double earth_au = 6378.14 / 149597870.7;
    double v[3], distance_au, ra, dec;
    if (!sun_moon_from_earth(v, &distance_au, THE_MOON, utc)) {
        return false;
    }
    matrix_apply(v, scan->to_date, v);
    vector_to_radec(&ra, &dec, v);
    double latitude = scan->night->place.latitude_deg * RAD_PER_DEG, d = dec * RAD_PER_DEG;
    double hour = (sidereal_deg(scan, utc) - ra) * RAD_PER_DEG;
    double altitude = asin(sin(latitude) * sin(d) + cos(latitude) * cos(d) * cos(hour));
    altitude -= asin(earth_au / distance_au * cos(altitude));
    *up = altitude * DEG_PER_RAD > SUN_MOON_RISE_SET;
    return true;
}

static bool find_moonless(double *hours, struct scan *scan, const struct part *part, int day)
{
    struct utc middle = middle_of(scan, day);
    double length = part->end_s - part->start_s;
    int steps = (int)ceil(length / moon_step_s), dark = 0;
    for (int i = 0; i < steps; i++) {
        bool up;
        if (!is_moon_up(&up, scan, time_add(middle, part->start_s + (i + 0.5) * length / steps))) {
            return false;
        }
        dark += !up;
    }
    *hours = steps ? length * dark / steps / 3600 : 0;
    return true;
}

static struct season_date date_of(const struct darkness *night, int day, double utc_offset_min)
{
    struct season_date date = {.any = true};
    int part[4];
    struct utc noon = time_add(night->noon, day * day_s + utc_offset_min * 60);
    eraD2dtf("UTC", 0, noon.day, noon.fraction, &date.year, &date.month, &date.day, part);
    return date;
}

bool season_dark_again(struct season_date *date, const struct darkness *night,
                       double utc_offset_min)
{
    struct scan scan;
    double lowest_s, dec;
    scan_make(&scan, night, 0, 0, 0);
    *date = (struct season_date){.any = false};
    for (int day = 0; day < YEAR_DAYS; day++) {
        if (!find_lowest(&lowest_s, &dec, &scan, day)) {
            return false;
        }
        if (lowest_altitude_deg(&scan, dec) < sun_altitude[night->wanted]) {
            *date = date_of(night, day, utc_offset_min);
            return true;
        }
    }
    return true;
}

/* Pieces of a year that is closed to a ring: the last one may go on at its beginning. */
static void find_runs(struct season *season, const bool *up, const struct darkness *night,
                      double utc_offset_min)
{
    int begun = 0;
    while (begun < YEAR_DAYS && up[begun]) {
        begun++;
    }
    season->all_year = begun == YEAR_DAYS;
    for (int i = 0; !season->all_year && i < YEAR_DAYS && season->runs < SEASON_RUNS; i++) {
        int day = (begun + i) % YEAR_DAYS, before = (day + YEAR_DAYS - 1) % YEAR_DAYS;
        if (up[day] && !up[before]) {
            int last = day;
            while (up[(last + 1) % YEAR_DAYS]) {
                last = (last + 1) % YEAR_DAYS;
            }
            season->run[season->runs++] = (struct season_run){date_of(night, day, utc_offset_min),
                                                              date_of(night, last, utc_offset_min)};
        }
    }
}

bool season_find(struct season *season, const struct darkness *night,
                 const struct season_wish *wish)
{
    bool up[YEAR_DAYS];
    struct scan scan;
    *season = (struct season){.least_hours = wish->least_hours,
                              .moonless_least_hours = wish->moonless_hours};
    scan_make(&scan, night, wish->ra_deg, wish->dec_deg, wish->least_altitude_deg);
    scan.least_s = wish->least_hours * 3600;
    for (int day = 0; day < YEAR_DAYS; day++) {
        struct part dark;
        if (!find_dark(&dark, &scan, day)) {
            return false;
        }
        struct part part = find_up(&scan, &dark, day);
        double length_h = (part.end_s - part.start_s) / 3600, hours = 0;
        up[day] = length_h >= wish->least_hours;
        if (up[day] && !season->next.any) {
            season->next = date_of(night, day, wish->utc_offset_min);
        }
        bool asked = day < MOONLESS_DAYS && season->nights < wish->nights &&
                     season->nights < SEASON_NIGHTS && length_h >= wish->moonless_hours;
        if (asked && !find_moonless(&hours, &scan, &part, day)) {
            return false;
        }
        if (asked && hours >= wish->moonless_hours) {
            season->moonless[season->nights++] =
                (struct season_night){date_of(night, day, wish->utc_offset_min), hours};
        }
    }
    find_runs(season, up, night, wish->utc_offset_min);
    return true;
}
