#include "sky/planets.h"

#include "sky/vector.h"

#include <erfa.h>
#include <math.h>

/* Days that light takes for an astronomical unit (IAU 2012). */
static const double light_days_au = 499.00478384 / 86400;

static const struct {
    const char *name;
    int number; /* of eraPlan94 */
} planets[PLANETS] = {
    [PLANET_MERCURY] = {"Mercury", 1}, [PLANET_VENUS] = {"Venus", 2},
    [PLANET_MARS] = {"Mars", 4},       [PLANET_JUPITER] = {"Jupiter", 5},
    [PLANET_SATURN] = {"Saturn", 6},   [PLANET_URANUS] = {"Uranus", 7},
    [PLANET_NEPTUNE] = {"Neptune", 8},
};

const char *planet_name(enum planet planet)
{
    return planets[planet].name;
}

/* Barycentric dynamical time, good enough for planets. */
static bool find_tdb(double tdb[2], struct utc utc)
{
    double tai[2];
    if (eraUtctai(utc.day, utc.fraction, &tai[0], &tai[1]) < 0) {
        return false;
    }
    return eraTaitt(tai[0], tai[1], &tdb[0], &tdb[1]) == 0;
}

bool planet_from_earth(double v[3], enum planet planet, struct utc utc)
{
    double tdb[2], earth[2][3], from_barycentre[2][3], place[2][3], way[3] = {0, 0, 1};
    if (!find_tdb(tdb, utc)) {
        return false;
    }
    eraEpv00(tdb[0], tdb[1], earth, from_barycentre); /* warns, and goes on, beyond 1900 to 2100 */
    double distance = 0;
    for (int i = 0; i < 3; i++) {
        int status =
            eraPlan94(tdb[0], tdb[1] - distance * light_days_au, planets[planet].number, place);
        if (status < 0 || status == 2) {
            return false;
        }
        eraPmp(place[0], earth[0], way);
        distance = eraPm(way);
    }
    vector_normalise(way);
    eraCp(way, v);
    return true;
}
