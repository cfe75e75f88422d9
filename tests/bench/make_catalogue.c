/* tests/bench/make_catalogue.c: writes a made-up catalogue of any size as a table.
 * usage: make_catalogue STARS > FILE. Counts grow with magnitude and towards a galactic plane. */
#include "demo/starfield.h"
#include "tests/bench/bench_common.h"

/* More than the densest place has of the mean. */
static const double most_crowded = 2.2;

/* Even over the sky, then thinned where stars are fewer. */
static void random_place(double v[3], struct random *random)
{
    static const double pole[3] = {-0.8676661490, -0.1980763734, 0.4559837762};
    do {
        random_direction(random, v);
    } while (random_uniform(random) * most_crowded > starfield_crowding(12, vector_dot(v, pole)));
}

/* Whole numbers are written several times faster than fractions. */
static void write_star(long id, const double v[3], double mag)
{
    double ra, dec;
    vector_to_radec(&ra, &dec, v);
    int micro_ra = (int)(ra * 1e6), micro_dec = (int)(fabs(dec) * 1e6), milli = (int)(mag * 1e3);
    printf("%ld,%d.%06d,%s%d.%06d,%d.%03d\n", id, micro_ra / 1000000, micro_ra % 1000000,
           dec < 0 ? "-" : "", micro_dec / 1000000, micro_dec % 1000000, milli / 1000,
           milli % 1000);
}

int main(int argc, char **argv)
{
    long stars = argc == 2 ? strtol(argv[1], NULL, 10) : 0;
    struct random random = {7};
    if (stars < 1) {
        fprintf(stderr, "usage: make_catalogue STARS > FILE\n");
        return 2;
    }
    printf("id,ra_deg,dec_deg,mag\n");
    for (long i = 1; i <= stars; i++) {
        double v[3];
        random_place(v, &random);
        /* 10^(0.45 mag) stars, the faintest of magnitude 16. */
        double mag = 16 + log10(1 - random_uniform(&random)) / 0.45;
        write_star(i, v, fmax(mag, 0));
    }
    return fflush(stdout) ? 4 : 0;
}
