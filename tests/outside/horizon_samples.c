/* Prints azimuth and altitude of many directions, for check_horizon.py: tab-separated, degrees,
 * without refraction. */
#include "base/random.h"
#include "sky/horizon.h"
#include "sky/vector.h"

#include <stdio.h>

int main(void)
{
    static const char *const when[] = {"2016-01-15T22:30:00Z", "2018-07-01T00:10:05Z",
                                       "2019-10-31T04:59:59Z", "2020-03-14T21:04:05Z"};
    static const double where[][3] = {
        {51.5, -0.1, 30}, {-33.9, 151.2, 60}, {0.2, 282, 2800}, {69.6, 18.9, 10}};
    struct random random = {11};
    printf("utc\tlatitude\tlongitude\theight\tra_deg\tdec_deg\tazimuth\taltitude\n");
    for (int i = 0; i < 400; i++) {
        struct utc utc;
        const double *at = where[i % 4];
        struct place place = {at[0], at[1], at[2], 0};
        double v[3], ra, dec, azimuth, altitude;
        const char *text = when[i / 4 % 4];
        random_direction(&random, v);
        vector_to_radec(&ra, &dec, v);
        if (!time_read(&utc, text) ||
            !horizon_from_radec(&azimuth, &altitude, &place, utc, ra, dec)) {
            return 1;
        }
        printf("%s\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\t%.17g\n", text, at[0], at[1], at[2],
               ra, dec, azimuth, altitude);
    }
    return 0;
}
