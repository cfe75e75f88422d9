/* Prints where the drawing puts Sun, Moon and planets among the stars, for check_bodies.py:
 * tab-separated, degrees. Random places and times of 1990 to 2030; then Venus from the Earth's
 * centre at the time of a published example. */
#include "base/random.h"
#include "sky/planets.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

enum { SAMPLES = 300 };

static void print_row(const char *name, const struct place *place, struct utc utc,
                      const double v[3])
{
    char text[32];
    double ra, dec;
    time_write(text, sizeof text, utc, 3);
    vector_to_radec(&ra, &dec, v);
    printf("%s\t%s\t%.9f\t%.9f\t%.3f\t%.8f\t%.8f\n", name, text, place->latitude_deg,
           place->longitude_deg, place->height_m, ra, dec);
}

static bool print_sample(struct random *random)
{
    static const char *const names[] = {"Sun", "Moon"};
    struct place place = {.height_m = 3000 * random_uniform(random)};
    struct utc utc = {2447892.5 + floor(14600 * random_uniform(random)), random_uniform(random)};
    double v[3], longitude, distance_au;
    bool good = true;
    random_direction(random, v);
    vector_to_radec(&longitude, &place.latitude_deg, v);
    place.longitude_deg = angle_wrap_180(longitude);
    for (int i = 0; i < 2; i++) {
        good = good && sun_moon_among_stars(v, &distance_au, (enum sun_moon)i, &place, utc);
        print_row(names[i], &place, utc, v);
    }
    for (int i = 0; i < PLANETS; i++) {
        good = good && planet_among_stars(v, (enum planet)i, &place, utc);
        print_row(planet_name((enum planet)i), &place, utc, v);
    }
    return good;
}

int main(void)
{
    struct random random = {11};
    const struct place centre = {0};
    const struct utc example = {2448976.5, -59.184 / 86400}; /* 1992 December 20, 0h TD */
    double v[3];
    for (int i = 0; i < SAMPLES; i++) {
        if (!print_sample(&random)) {
            return 1;
        }
    }
    if (!planet_among_stars(v, PLANET_VENUS, NULL, example)) {
        return 1;
    }
    print_row("example", &centre, example, v);
    return 0;
}
