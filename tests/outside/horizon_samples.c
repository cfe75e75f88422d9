/* Prints azimuth and altitude of stars from random places at random times, for check_horizon.py:
 * tab-separated, degrees; the last fifth with air. */
#include "base/random.h"
#include "sky/horizon.h"
#include "sky/vector.h"

#include <stdio.h>

enum { SAMPLES = 2000 };

/* Anywhere on the Earth, poles and both sides of the date line among them. */
static struct place random_place(int i, struct random *random)
{
    double v[3], longitude, latitude;
    random_direction(random, v);
    vector_to_radec(&longitude, &latitude, v);
    struct place place = {.latitude_deg = i % 100 == 0   ? 90
                                          : i % 100 == 1 ? -90
                                                         : latitude,
                          .longitude_deg = i % 100 == 2 ? 180 : longitude - 180,
                          .height_m = random_between(random, 0, 5000)};
    if (i >= SAMPLES - SAMPLES / 5) {
        place.pressure_hpa = horizon_usual_pressure(place.height_m);
        place.temperature_c = random_between(random, -20, 30);
    }
    return place;
}

int main(void)
{
    struct random random = {11};
    struct utc first;
    if (!time_read(&first, "1990-01-01")) {
        return 1;
    }
    printf("utc\tlatitude\tlongitude\theight\tpressure\ttemperature\tra_deg\tdec_deg\tazimuth\t"
           "altitude\n");
    for (int i = 0; i < SAMPLES; i++) {
        struct place place = random_place(i, &random);
        struct utc utc = time_add(first, random_between(&random, 0, 31 * 365.25 * 86400));
        char when[32];
        double v[3], ra, dec, azimuth, altitude;
        random_direction(&random, v);
        vector_to_radec(&ra, &dec, v);
        time_write(when, sizeof when, utc, 6);
        if (!time_read(&utc, when) ||
            !horizon_from_radec(&azimuth, &altitude, &place, utc, ra, dec)) {
            return 1;
        }
        printf("%s\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\n", when,
               place.latitude_deg, place.longitude_deg, place.height_m, place.pressure_hpa,
               place.temperature_c, ra, dec, azimuth, altitude);
    }
    return 0;
}
