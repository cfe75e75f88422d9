/* Writes the stars of an index, a line each: number, right ascension and declination (degrees),
 * magnitude, B-V or nan; for check_catalogue_forms.py. Usage: index_stars INDEX */
#include "match/index.h"
#include "sky/vector.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

int main(int argc, char **argv)
{
    struct index_file file = {0};
    struct error err = {0};
    if (argc != 2 || index_open(&file, argv[1], &err)) {
        fprintf(stderr, "index_stars: %s\n", argc == 2 ? err.text : "one index is wanted");
        return 2;
    }
    for (uint32_t i = 0; i < file.index.stars; i++) {
        const struct index_star *star = &file.index.star[i];
        double v[3], ra, dec;
        index_star_vector(v, star);
        vector_to_radec(&ra, &dec, v);
        printf("%" PRIu64 "\t%.9f\t%.9f\t%.3f\t%.3f\n", index_number(&file.index, i), ra, dec,
               star->mag / 1000.0,
               star->colour == INDEX_NO_COLOUR ? (double)NAN : star->colour / 1000.0);
    }
    index_close(&file);
    return 0;
}
