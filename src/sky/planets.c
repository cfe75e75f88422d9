#include "sky/planets.h"

#include "sky/observer.h"
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

bool planet_among_stars(double v[3], enum planet planet, const struct place *place, struct utc utc)
{
    eraASTROM observer;
    double tt[2], sun_earth[2][3], earth[2][3], around_sun[2][3], sun[3], way[3] = {0, 0, 1};
    if (!observer_time(tt, utc) || !observer_make(&observer, place, utc)) {
        return false;
    }
    eraEpv00(tt[0], tt[1], sun_earth, earth); /* warns, and goes on, beyond 1900 to 2100 */
    eraPmp(earth[0], sun_earth[0], sun);
    double distance = 0;
    for (int i = 0; i < 3; i++) {
        int status =
            eraPlan94(tt[0], tt[1] - distance * light_days_au, planets[planet].number, around_sun);
        if (status < 0 || status == 2) {
            return false;
        }
        eraPpp(sun, around_sun[0], way);
        eraPmp(way, observer.eb, way);
        distance = eraPm(way);
    }
    vector_normalise(way);
    eraCp(way, v);
    return true;
}
