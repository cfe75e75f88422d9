/* Prints places of the Sun and the Moon, and their risings, settings and the Sun's twilights, for
 * check_sun_moon.py: tab-separated, degrees, without refraction. Random places all over the Earth,
 * random times of 1990 to 2030. */
#include "base/random.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

enum { PLACES = 2000, NIGHTS = 70 };

static void random_place(struct place *place, struct utc *utc, struct random *random)
{
    double v[3], longitude;
    random_direction(random, v);
    vector_to_radec(&longitude, &place->latitude_deg, v);
    place->longitude_deg = angle_wrap_180(longitude);
    place->height_m = 3000 * random_uniform(random);
    place->pressure_hpa = 0;
    utc->day = 2447892.5 + floor(14600 * random_uniform(random));
    utc->fraction = random_uniform(random);
}

static void print_head(const char *kind, const struct place *place, struct utc utc)
{
    char text[32];
    time_write(text, sizeof text, utc, 3);
    printf("%s\t%s\t%.9f\t%.9f\t%.3f", kind, text, place->latitude_deg, place->longitude_deg,
           place->height_m);
}

int main(void)
{
    static const char *const names[] = {"sun", "moon"};
    static const double marks[] = {SUN_MOON_RISE_SET, SUN_MOON_CIVIL, SUN_MOON_NAUTICAL,
                                   SUN_MOON_ASTRONOMICAL};
    struct random random = {5};
    struct place place;
    struct utc utc;
    for (int i = 0; i < PLACES; i++) {
        random_place(&place, &utc, &random);
        for (int which = 0; which < 2; which++) {
            struct sun_moon_position seen;
            double lit, lit_here, limb_deg;
            bool waxing;
            if (!sun_moon_from_place(&seen, (enum sun_moon)which, &place, utc) ||
                !sun_moon_phase(&lit, &waxing, utc) ||
                !sun_moon_moonlight(&lit_here, &limb_deg, &place, utc)) {
                return 1;
            }
            print_head(names[which], &place, utc);
            printf("\t%.8f\t%.8f\t%.6f\t%d\t%.6f\t%.4f\n", seen.azimuth_deg, seen.altitude_deg, lit,
                   waxing, lit_here, limb_deg);
        }
    }
    for (int i = 0; i < NIGHTS; i++) {
        struct sun_moon_track sun, moon;
        random_place(&place, &utc, &random);
        sun_moon_track_make(&sun, THE_SUN, &place, utc, 24);
        sun_moon_track_make(&moon, THE_MOON, &place, utc, 24);
        for (int k = 0; k < 5; k++) {
            struct sun_moon_crossing crossing[8];
            double altitude = k < 4 ? marks[k] : SUN_MOON_RISE_SET;
            int n = sun_moon_crossings(crossing, 8, k < 4 ? &sun : &moon, altitude);
            print_head(k < 4 ? "sun-crossings" : "moon-crossings", &place, utc);
            printf("\t%.3f\t%d", altitude, n);
            for (int j = 0; j < n; j++) {
                printf("\t%.3f\t%d", time_between(utc, crossing[j].utc), crossing[j].rising);
            }
            printf("\n");
        }
    }
    return 0;
}
