/* tests/bench/make_catalogue.c: writes a made-up catalogue of any size as a table.
 * usage: make_catalogue STARS > FILE. Counts grow with magnitude and towards a galactic plane. */
#include "demo/starfield.h"
#include "tests/bench/bench_common.h"

int main(int argc, char **argv)
{
    static const double pole[3] = {-0.8676661490, -0.1980763734, 0.4559837762};
    long stars = argc == 2 ? strtol(argv[1], NULL, 10) : 0;
    struct random random = {7};
    if (stars < 1) {
        fprintf(stderr, "usage: make_catalogue STARS > FILE\n");
        return 2;
    }
    printf("id,ra_deg,dec_deg,mag\n");
    for (long i = 0; i < stars;) {
        double v[3], ra, dec;
        random_direction(&random, v);
        if (random_uniform(&random) * 4 > starfield_crowding(12, vector_dot(v, pole))) {
            continue;
        }
        /* 10^(0.45 mag) stars, the faintest of magnitude 16. */
        double mag = 16 + log10(1 - random_uniform(&random)) / 0.45;
        vector_to_radec(&ra, &dec, v);
        printf("%ld,%.6f,%.6f,%.3f\n", ++i, ra, dec, fmax(mag, -1));
    }
    return fflush(stdout) ? 4 : 0;
}
