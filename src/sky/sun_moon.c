#include "sky/sun_moon.h"

#include "sky/observer.h"
#include "sky/vector.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

static const double sun_radius_km = 695700, moon_radius_km = 1737.4, au_km = 149597870.7;
static const double light_day_au = ERFA_DAYSEC / ERFA_AULT; /* that light covers in a day */

/* Barycentric place and velocity, au and au a day; TT stands for TDB. */
static void barycentric(double pv[2][3], enum sun_moon which, const double tt[2])
{
    double heliocentric[2][3], earth[2][3], moon[2][3];
    eraEpv00(tt[0], tt[1], heliocentric, earth);
    if (which == THE_SUN) {
        eraPvmpv(earth, heliocentric, pv);
    } else {
        eraMoon98(tt[0], tt[1], moon);
        eraPvppv(earth, moon, pv);
    }
}

/* Unit vector to where it was when the light left. */
static void astrometric(double v[3], double *distance_au, double body[2][3], eraASTROM *observer)
{
    double to_it[3];
    eraPmp(body[0], observer->eb, to_it);
    double days = eraPm(to_it) / light_day_au;
    for (int i = 0; i < 3; i++) {
        to_it[i] -= days * body[1][i];
    }
    eraPn(to_it, distance_au, v);
}

/* Unit vector in which an observer sees it: with aberration. */
static void apparent(double v[3], double *distance_au, double body[2][3], eraASTROM *observer)
{
    double unit[3];
    astrometric(unit, distance_au, body, observer);
    eraAb(unit, observer->v, observer->em, observer->bm1, v);
}

double sun_moon_radius_deg(enum sun_moon which, double distance_au)
{
    double radius_km = which == THE_SUN ? sun_radius_km : moon_radius_km;
    return asin(radius_km / (distance_au * au_km)) * ERFA_DR2D;
}

bool sun_moon_from_place(struct sun_moon_position *out, enum sun_moon which,
                         const struct place *place, struct utc utc)
{
    eraASTROM observer;
    double tt[2], pv[2][3], v[3], distance_au, of_date[3], ra, dec;
    if (!observer_time(tt, utc) || !observer_make(&observer, place, utc)) {
        return false;
    }
    barycentric(pv, which, tt);
    apparent(v, &distance_au, pv, &observer);
    eraRxp(observer.bpn, v, of_date);
    eraC2s(of_date, &ra, &dec);
    double azimuth, zenith, hour, observed_dec, observed_ra;
    eraAtioq(ra, dec, &observer, &azimuth, &zenith, &hour, &observed_dec, &observed_ra);
    vector_to_radec(&out->ra_deg, &out->dec_deg, v);
    out->azimuth_deg = angle_wrap_360(azimuth * ERFA_DR2D);
    out->altitude_deg = 90 - zenith * ERFA_DR2D;
    out->radius_deg = sun_moon_radius_deg(which, distance_au);
    return true;
}

bool sun_moon_from_earth(double v[3], double *distance_au, enum sun_moon which, struct utc utc)
{
    eraASTROM observer;
    double tt[2], pv[2][3];
    if (!observer_time(tt, utc) || !observer_make(&observer, NULL, utc)) {
        return false;
    }
    barycentric(pv, which, tt);
    apparent(v, distance_au, pv, &observer);
    return true;
}

bool sun_moon_among_stars(double v[3], double *distance_au, enum sun_moon which,
                          const struct place *place, struct utc utc)
{
    eraASTROM observer;
    double tt[2], pv[2][3];
    if (!observer_time(tt, utc) || !observer_make(&observer, place, utc)) {
        return false;
    }
    barycentric(pv, which, tt);
    astrometric(v, distance_au, pv, &observer);
    return true;
}

static double lit_share(const double sun[3], double sun_au, const double moon[3], double moon_au)
{
    double elongation = vector_angle_deg(sun, moon) * ERFA_DD2R;
    double phase = atan2(sun_au * sin(elongation), moon_au - sun_au * cos(elongation));
    return (1 + cos(phase)) / 2;
}

bool sun_moon_moonlight(double *lit, double *limb_deg, const struct place *place, struct utc utc)
{
    double sun[3], moon[3], sun_au, moon_au, sun_ra, sun_dec, ra, dec;
    if (!sun_moon_among_stars(sun, &sun_au, THE_SUN, place, utc) ||
        !sun_moon_among_stars(moon, &moon_au, THE_MOON, place, utc)) {
        return false;
    }
    vector_to_radec(&sun_ra, &sun_dec, sun);
    vector_to_radec(&ra, &dec, moon);
    *lit = lit_share(sun, sun_au, moon, moon_au);
    *limb_deg = radec_position_angle_deg(ra, dec, sun_ra, sun_dec);
    return true;
}

bool sun_moon_phase(double *lit, bool *waxing, struct utc utc)
{
    double sun[3], moon[3], sun_au, moon_au, tt[2], longitude[2], latitude;
    if (!observer_time(tt, utc) || !sun_moon_from_earth(sun, &sun_au, THE_SUN, utc) ||
        !sun_moon_from_earth(moon, &moon_au, THE_MOON, utc)) {
        return false;
    }
    for (int i = 0; i < 2; i++) {
        double ra, dec;
        eraC2s(i ? moon : sun, &ra, &dec);
        eraEqec06(tt[0], tt[1], ra, dec, &longitude[i], &latitude);
    }
    *lit = lit_share(sun, sun_au, moon, moon_au);
    *waxing = sin(longitude[1] - longitude[0]) > 0;
    return true;
}

/* Altitude above the one looked for, as a function of seconds from the start. */
struct curve {
    const struct sun_moon_track *track;
    double altitude_deg;
};

static double altitude(const struct sun_moon_track *track, double seconds)
{
    struct sun_moon_position seen;
    bool known = sun_moon_from_place(&seen, track->which, track->place,
                                     time_add(track->start, seconds));
    return known ? seen.altitude_deg : NAN;
}

static double height(const struct curve *curve, double seconds)
{
    return altitude(curve->track, seconds) - curve->altitude_deg;
}

/* Bisection: no derivative to go wrong near the horizon of a pole. */
static double find_zero(const struct curve *curve, double low, double high)
{
    bool low_above = height(curve, low) > 0;
    while (high - low > 0.05) {
        double middle = (low + high) / 2;
        if ((height(curve, middle) > 0) == low_above) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return (low + high) / 2;
}

/* Where the sign times the height is largest, by golden section. */
static double find_top(const struct curve *curve, double sign, double low, double high)
{
    const double golden = (sqrt(5) - 1) / 2;
    while (high - low > 2) {
        double a = high - golden * (high - low), b = low + golden * (high - low);
        if (sign * height(curve, a) > sign * height(curve, b)) {
            high = b;
        } else {
            low = a;
        }
    }
    return (low + high) / 2;
}

static const double step_s = 1200;

/* Between two neighbours of the middle one of three samples on the same side of zero the curve may
 * still reach across it: returns where, or 0. */
static double hidden_top(const struct curve *curve, double middle_s, const double h[3])
{
    double sign = h[1] > 0 ? -1 : 1;
    bool is_top = sign * h[1] >= sign * h[0] && sign * h[1] >= sign * h[2];
    bool same_side = sign * h[0] <= 0 && sign * h[2] <= 0;
    /* Within a step nothing climbs by more than 5.2 degrees. */
    if (!is_top || !same_side || fabs(h[1]) > 5.2) {
        return 0;
    }
    double top = find_top(curve, sign, middle_s - step_s, middle_s + step_s);
    return sign * height(curve, top) > 0 ? top : 0;
}

static void add_crossing(struct sun_moon_crossing *out, int most, int *count,
                         const struct curve *curve, double low, double high)
{
    if (*count < most) {
        out[*count].rising = height(curve, high) > 0;
        out[*count].utc = time_add(curve->track->start, find_zero(curve, low, high));
        ++*count;
    }
}

static double sample_s(const struct sun_moon_track *track, int i)
{
    return fmin(i * step_s, track->hours * 3600);
}

bool sun_moon_track_make(struct sun_moon_track *track, enum sun_moon which,
                         const struct place *place, struct utc start, double hours)
{
    *track = (struct sun_moon_track){which, place, start, hours, 0, {0}};
    track->samples = (int)ceil(hours * 3600 / step_s) + 1;
    for (int i = 0; i < track->samples; i++) {
        track->altitude_deg[i] = altitude(track, sample_s(track, i));
    }
    return !isnan(track->altitude_deg[0]);
}

int sun_moon_crossings(struct sun_moon_crossing *out, int most, const struct sun_moon_track *track,
                       double altitude_deg)
{
    struct curve curve = {track, altitude_deg};
    int count = 0;
    double end_s = track->hours * 3600, h[3] = {NAN, NAN, track->altitude_deg[0] - altitude_deg};
    for (int i = 1; i < track->samples; i++) {
        double before = (i - 1) * step_s, now = sample_s(track, i);
        memmove(h, h + 1, 2 * sizeof *h);
        h[2] = track->altitude_deg[i] - altitude_deg;
        double top = i > 1 ? hidden_top(&curve, before, h) : 0;
        if (top > 0 && top < end_s) {
            add_crossing(out, most, &count, &curve, before - step_s, top);
            add_crossing(out, most, &count, &curve, top, now);
        } else if ((h[1] > 0) != (h[2] > 0)) {
            add_crossing(out, most, &count, &curve, before, now);
        }
    }
    return count;
}

void sun_moon_extreme(struct utc *when, double *altitude_deg, bool lowest,
                      const struct sun_moon_track *track)
{
    struct curve curve = {track, 0};
    double sign = lowest ? -1 : 1, best = -INFINITY, best_s = 0, end_s = track->hours * 3600;
    for (int i = 0; i < track->samples; i++) {
        double value = sign * track->altitude_deg[i];
        if (value > best) {
            best = value;
            best_s = sample_s(track, i);
        }
    }
    double top = find_top(&curve, sign, fmax(0, best_s - step_s), fmin(end_s, best_s + step_s));
    *altitude_deg = height(&curve, top);
    *when = time_add(track->start, top);
}
