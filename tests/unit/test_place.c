#include "base/random.h"
#include "near.h"
#include "objects/constellations.h"
#include "objects/whereabouts.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Suite *place_suite(void);

static struct place_map map;
static struct objects objects;

static void load(void)
{
    struct error err = {0};
    ck_assert_msg(place_map_load(&map, "catalogs", &err) == 0, "%s", err.text);
    ck_assert_msg(objects_load(&objects, "catalogs", &err) == 0, "%s", err.text);
}

static void unload(void)
{
    place_map_free(&map);
    objects_free(&objects);
}

/* astropy 5.2.1, get_constellation, at random places more than 1.2 arcmin from any border: all
 * 88 constellations and the surroundings of both poles. */
static const struct sample {
    double ra, dec;
    const char *constellation;
} samples[] = {
    {237.640, 89.464, "UMi"},  {352.749, 87.815, "Cep"},  {219.084, 88.234, "UMi"},
    {224.042, 89.023, "UMi"},  {38.474, 86.776, "Cep"},   {237.563, 89.662, "UMi"},
    {132.333, 89.771, "UMi"},  {79.576, 87.789, "Cep"},   {279.461, 87.758, "UMi"},
    {341.198, 86.887, "UMi"},  {86.543, 89.179, "UMi"},   {261.731, 88.837, "UMi"},
    {47.779, 86.489, "Cep"},   {21.269, 86.510, "Cep"},   {105.224, 86.471, "Cep"},
    {354.967, 88.067, "Cep"},  {131.844, 87.498, "Cep"},  {226.200, -89.823, "Oct"},
    {127.161, -88.589, "Oct"}, {79.937, -89.957, "Oct"},  {240.397, -87.767, "Oct"},
    {36.661, -89.596, "Oct"},  {202.017, -88.292, "Oct"}, {79.575, -88.793, "Oct"},
    {109.793, -89.841, "Oct"}, {259.109, -86.559, "Oct"}, {64.904, 1.318, "Tau"},
    {268.870, -80.037, "Aps"}, {270.800, -78.205, "Aps"}, {204.112, -12.916, "Vir"},
    {331.589, -14.287, "Aqr"}, {74.079, 64.364, "Cam"},   {306.324, 51.115, "Cyg"},
    {60.835, -29.959, "Eri"},  {347.169, -4.629, "Aqr"},  {224.529, -22.239, "Lib"},
    {218.478, 13.807, "Boo"},  {349.401, 20.952, "Peg"},  {283.332, -56.738, "Tel"},
    {284.370, -29.332, "Sgr"}, {19.474, -35.731, "Scl"},  {132.943, 0.588, "Hya"},
    {30.562, -16.192, "Cet"},  {69.670, -4.778, "Eri"},   {76.992, -24.699, "Lep"},
    {309.111, -37.884, "Mic"}, {106.833, -67.405, "Vol"}, {177.425, 2.058, "Vir"},
    {305.806, -34.992, "Sgr"}, {347.483, 16.024, "Peg"},  {254.932, 35.819, "Her"},
    {76.927, -49.486, "Pic"},  {254.145, 22.238, "Her"},  {18.678, -32.763, "Scl"},
    {244.758, 57.898, "Dra"},  {132.581, -27.101, "Pyx"}, {212.292, 17.165, "Boo"},
    {241.032, 4.497, "Ser"},   {240.886, 56.305, "Dra"},  {188.298, 35.682, "CVn"},
    {199.705, 30.788, "Com"},  {71.334, -66.062, "Dor"},  {178.267, -34.696, "Hya"},
    {45.147, 71.019, "Cas"},   {173.069, -47.400, "Cen"}, {193.048, 34.234, "CVn"},
    {141.719, -42.322, "Vel"}, {7.056, 75.673, "Cas"},    {73.884, -83.697, "Men"},
    {266.853, -59.236, "Pav"}, {139.931, -58.825, "Car"}, {136.970, -34.960, "Pyx"},
    {327.404, -70.744, "Ind"}, {141.469, -42.517, "Vel"}, {125.587, 42.543, "Lyn"},
    {125.287, 49.438, "Lyn"},  {173.076, 18.749, "Leo"},  {33.585, -6.136, "Cet"},
    {196.829, 20.689, "Com"},  {267.808, -60.825, "Pav"}, {295.250, 22.645, "Vul"},
    {91.352, 15.378, "Ori"},   {173.507, 4.505, "Leo"},   {94.224, 4.331, "Ori"},
    {205.759, 84.103, "Cam"},  {222.716, -31.396, "Cen"}, {37.584, 13.659, "Ari"},
    {159.270, 72.558, "UMa"},  {140.348, 25.759, "Cnc"},  {60.825, 24.271, "Tau"},
    {184.535, -65.691, "Mus"}, {239.525, -16.779, "Lib"}, {87.803, -45.901, "Pic"},
    {100.762, -8.016, "Mon"},  {122.301, -31.774, "Pup"}, {81.042, -20.933, "Lep"},
    {193.074, -78.291, "Cha"}, {240.537, -21.812, "Sco"}, {318.497, -40.758, "Mic"},
    {317.232, 53.139, "Cyg"},  {19.091, 16.674, "Psc"},   {62.608, 35.581, "Per"},
    {3.228, -42.118, "Phe"},   {23.130, 46.870, "And"},   {305.029, 27.998, "Vul"},
    {145.911, 1.394, "Sex"},   {133.877, -77.377, "Cha"}, {185.868, 59.996, "UMa"},
    {159.731, 31.029, "LMi"},  {238.947, 27.266, "CrB"},  {315.515, 3.437, "Equ"},
    {246.079, -21.765, "Oph"}, {239.896, -35.356, "Lup"}, {240.997, -12.875, "Sco"},
    {282.928, 32.223, "Lyr"},  {308.768, -56.550, "Ind"}, {28.000, -29.089, "For"},
    {48.844, -36.853, "For"},  {97.330, -78.926, "Men"},  {237.421, 25.216, "Ser"},
    {237.618, -31.721, "Lup"}, {4.415, 46.571, "And"},    {156.888, 37.528, "LMi"},
    {100.849, -6.583, "Mon"},  {324.686, -26.959, "PsA"}, {149.307, 5.388, "Sex"},
    {256.736, 7.053, "Oph"},   {229.903, 28.828, "CrB"},  {121.115, 4.050, "CMi"},
    {306.773, 14.433, "Del"},  {95.795, 40.279, "Aur"},   {295.407, -51.721, "Tel"},
    {316.057, -16.706, "Cap"}, {288.749, 33.443, "Lyr"},  {179.573, -67.198, "Mus"},
    {68.509, -38.278, "Cae"},  {117.638, -21.005, "Pup"}, {183.559, -19.762, "Crv"},
    {298.545, -4.655, "Aql"},  {82.558, -39.393, "Col"},  {3.783, -67.856, "Tuc"},
    {17.474, 30.229, "Psc"},   {118.785, 18.293, "Gem"},  {339.849, 41.755, "Lac"},
    {226.197, -68.086, "TrA"}, {300.837, 19.713, "Sge"},  {17.222, -45.929, "Phe"},
    {93.057, 24.070, "Gem"},   {325.427, -25.781, "PsA"}, {106.523, -31.195, "CMa"},
    {123.923, 17.338, "Cnc"},  {178.447, -10.717, "Crt"}, {192.459, -17.907, "Crv"},
    {297.752, 3.142, "Aql"},   {76.630, -38.409, "Col"},  {108.716, -63.606, "Car"},
    {285.587, -39.827, "CrA"}, {340.388, 39.834, "Lac"},  {26.926, 18.330, "Ari"},
    {95.522, 52.292, "Aur"},   {74.840, -54.362, "Dor"},  {257.067, -55.754, "Ara"},
    {122.857, -69.004, "Vol"}, {321.768, -8.711, "Cap"},  {212.916, -66.810, "Cir"},
    {41.895, -65.036, "Hor"},  {65.459, 52.229, "Per"},   {95.184, -13.411, "CMa"},
    {142.493, -33.543, "Ant"}, {284.084, -15.663, "Sct"}, {16.525, -73.997, "Tuc"},
    {69.919, -40.797, "Cae"},  {274.258, -42.126, "CrA"}, {144.687, -28.585, "Ant"},
    {311.158, 5.646, "Del"},   {347.775, -51.589, "Gru"}, {232.573, -49.089, "Nor"},
    {38.284, -62.757, "Hor"},  {317.061, 10.691, "Equ"},  {59.448, -62.173, "Ret"},
    {261.740, -46.009, "Ara"}, {166.486, -13.084, "Crt"}, {107.882, 5.985, "CMi"},
    {29.299, -78.651, "Hyi"},  {240.070, -62.232, "TrA"}, {53.745, -58.084, "Ret"},
    {340.343, -37.555, "Gru"}, {32.090, 29.911, "Tri"},   {42.323, -69.536, "Hyi"},
    {240.654, -53.238, "Nor"}, {190.767, -56.147, "Cru"}, {226.416, -58.032, "Cir"},
    {276.239, -4.937, "Sct"},  {25.597, 29.041, "Tri"},   {302.835, 21.525, "Sge"},
    {185.749, -61.779, "Cru"},
};

START_TEST(test_samples)
{
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        const char *got = place_constellation(&map, samples[i].ra, samples[i].dec);
        ck_assert_msg(strcmp(got, samples[i].constellation) == 0,
                      "(%.3f, %.3f) is in \"%s\", expected %s", samples[i].ra, samples[i].dec, got,
                      samples[i].constellation);
    }
}
END_TEST

START_TEST(test_everywhere)
{
    struct random random = {5};
    for (int i = 0; i < 20000; i++) {
        double v[3], ra, dec;
        random_direction(&random, v);
        vector_to_radec(&ra, &dec, v);
        ck_assert_msg(*place_constellation(&map, ra, dec), "(%.6f, %.6f) is nowhere", ra, dec);
    }
    ck_assert_str_eq(place_constellation(&map, 123, 90), "UMi");
    ck_assert_str_eq(place_constellation(&map, 123, -90), "Oct");
    ck_assert_str_eq(place_constellation(&map, 350, 30), place_constellation(&map, -10, 30));
    ck_assert_str_eq(place_constellation(&map, NAN, 0), "");
    ck_assert_str_eq(place_constellation(&map, 0, INFINITY), "");
    struct place_map none = {0};
    ck_assert_str_eq(place_constellation(&none, 10, 10), "");
}
END_TEST

/* Corners lie in one polygon only, though three meet there. */
START_TEST(test_corners)
{
    for (int p = 0; p < map.polygons; p++) {
        double(*line)[2];
        int count;
        struct error err = {0};
        ck_assert_int_eq(place_outline(&line, &count, &map, p, 1000, &err), 0);
        ck_assert_int_eq(count, map.polygon[p].count + 1);
        for (int i = 0; i < count; i++) {
            ck_assert(*place_constellation(&map, line[i][0], line[i][1]));
        }
        free(line);
    }
}
END_TEST

/* Which part holds what: handbook, from memory. */
START_TEST(serpens_has_two_parts)
{
    static const struct {
        const char *name, *part;
    } known[] = {{"M 5", "Serpens Caput"},    {"α Ser", "Serpens Caput"},
                 {"M 16", "Serpens Cauda"},   {"IC 4756", "Serpens Cauda"},
                 {"η Ser", "Serpens Cauda"},  {"ξ Ser", "Serpens Cauda"},
                 {"θ1 Ser", "Serpens Cauda"}, {"NGC 5921", "Serpens Caput"}};
    struct constellations constellations;
    ck_assert_int_eq(constellations_load(&constellations, "catalogs", NULL), 0);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        const struct object *object = objects_find(&objects, known[i].name);
        ck_assert_msg(object != NULL, "%s", known[i].name);
        const struct constellation *in =
            constellations_find(&constellations, "Ser", object->ra_deg, object->dec_deg);
        ck_assert_str_eq(in->name, known[i].part);
    }
    ck_assert(constellations_find(&constellations, "Xyz", 0, 0) == NULL);
}
END_TEST

/* The constellation that a star's designation names: "alpha Lyr" gives "Lyr". */
static bool named_constellation(char out[4], const struct object *star,
                                const struct constellations *constellations)
{
    char all[400];
    snprintf(all, sizeof all, "%s;%s", star->id, star->other_names);
    for (char *name = strtok(all, ";"); name; name = strtok(NULL, ";")) {
        const char *last = strrchr(name, ' ');
        if (last && constellations_find(constellations, last + 1, 0, 0)) {
            strcpy(out, last + 1);
            return true;
        }
    }
    return false;
}

START_TEST(test_stars_lie_in_their_constellation)
{
    struct constellations constellations;
    struct error err = {0};
    ck_assert_msg(constellations_load(&constellations, "catalogs", &err) == 0, "%s", err.text);
    int stars = 0, strangers = 0;
    for (int i = objects.deep_sky; i < objects.count; i++) {
        const struct object *star = &objects.object[i];
        char name[4];
        if (named_constellation(name, star, &constellations)) {
            stars++;
            strangers += strcmp(place_constellation(&map, star->ra_deg, star->dec_deg), name) != 0;
        }
    }
    ck_assert_int_gt(stars, 4000);
    /* Flamsteed's numbers are older than the borders: 42 stars have ended up next door. */
    ck_assert_msg(strangers <= 50, "%d of %d stars lie elsewhere", strangers, stars);
    ck_assert_int_gt(strangers, 0);
    const struct object *star = objects_find(&objects, "rho Aquilae"); /* the best known of them */
    ck_assert_str_eq(place_constellation(&map, star->ra_deg, star->dec_deg), "Del");
}
END_TEST

START_TEST(test_outline)
{
    for (int p = 0; p < map.polygons; p++) {
        double(*line)[2];
        int count;
        struct error err = {0};
        ck_assert_int_eq(place_outline(&line, &count, &map, p, 1, &err), 0);
        assert_near(line[count - 1][0], line[0][0], 0, "deg");
        assert_near(line[count - 1][1], line[0][1], 0, "deg");
        for (int i = 0; i + 1 < count; i++) {
            ck_assert(line[i][0] >= 0 && line[i][0] < 360);
            double step = radec_angle_deg(line[i][0], line[i][1], line[i + 1][0], line[i + 1][1]);
            ck_assert_msg(step < 1.0001, "%s: step of %.3f", map.polygon[p].constellation, step);
        }
        free(line);
    }
}
END_TEST

/* On either side of an outline lie two constellations, one of them its own. */
START_TEST(test_outline_parts)
{
    for (int p = 0; p < map.polygons; p++) {
        double(*line)[2];
        int count, own = 0, other = 0;
        struct error err = {0};
        ck_assert_int_eq(place_outline(&line, &count, &map, p, 0.5, &err), 0);
        for (int i = 0; i + 1 < count; i++) {
            double angle =
                radec_position_angle_deg(line[i][0], line[i][1], line[i + 1][0], line[i + 1][1]);
            double step = radec_angle_deg(line[i][0], line[i][1], line[i + 1][0], line[i + 1][1]);
            double ra, dec, left[2], right[2];
            radec_offset(&ra, &dec, line[i][0], line[i][1], angle, step / 2);
            /* A chord of 0.5 degrees leaves its circle by less than 0.02 degrees at +-88. */
            radec_offset(&left[0], &left[1], ra, dec, angle - 90, 0.03);
            radec_offset(&right[0], &right[1], ra, dec, angle + 90, 0.03);
            bool left_own = strcmp(place_constellation(&map, left[0], left[1]),
                                   map.polygon[p].constellation) == 0;
            bool right_own = strcmp(place_constellation(&map, right[0], right[1]),
                                    map.polygon[p].constellation) == 0;
            own += left_own != right_own;
            other += left_own == right_own;
        }
        /* Close to a corner the offset point may lie past the next edge. */
        ck_assert_msg(other * 50 <= own, "%s: %d of %d edges part nothing",
                      map.polygon[p].constellation, other, own + other);
        free(line);
    }
}
END_TEST

START_TEST(test_nearest_star)
{
    double distance = 0;
    /* 3.05 degrees from the North America Nebula to Deneb (from memory: about 3 degrees). */
    const struct object *star = place_nearest_star(&distance, &objects, 314.696, 44.33, 2.0);
    ck_assert_str_eq(star->id, "Deneb");
    assert_near(distance, 3.2, 0.3, "deg");
    star = place_nearest_star(&distance, &objects, 85.2458, -2.4583, 3);
    ck_assert_str_eq(star->id, "Alnitak");
    ck_assert(distance < 0.8);
    star = place_nearest_star(&distance, &objects, 279.2347, 38.7837, 1);
    ck_assert_str_eq(star->id, "Vega");
    assert_near(distance, 0, 1e-9, "deg");
    ck_assert(!place_nearest_star(&distance, &objects, 0, 0, -5));
}
END_TEST

static const char good_bounds[] =
    "constellation\tpolygon\tra_deg\tdec_deg\tra_b1875_deg\tdec_b1875_deg\n"
    "Lyr\t1\t0\t0\t280\t30\nLyr\t1\t0\t0\t290\t30\n"
    "Lyr\t1\t0\t0\t290\t40\nLyr\t1\t0\t0\t280\t40\n";

static void check_bounds(const char *old, const char *new, const char *says)
{
    char folder[] = "/tmp/alidade-test-XXXXXX", path[100];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/constellation-bounds.tsv", folder);
    FILE *stream = fopen(path, "w");
    ck_assert_ptr_nonnull(stream);
    const char *place = strstr(good_bounds, old);
    fprintf(stream, "%.*s%s%s", (int)(place - good_bounds), good_bounds, new, place + strlen(old));
    fclose(stream);
    struct place_map small;
    struct error err = {0};
    int code = place_map_load(&small, folder, &err);
    remove(path);
    rmdir(folder);
    if (!says) {
        ck_assert_msg(code == 0, "%s", err.text);
        ck_assert_str_eq(place_constellation(&small, 285, 36), "Lyr");
        ck_assert_str_eq(place_constellation(&small, 285, 50), "");
    } else {
        ck_assert_int_eq(code, ERROR_INPUT);
        ck_assert_msg(strstr(err.text, says) != NULL, "says \"%s\", expected \"%s\"", err.text,
                      says);
    }
    place_map_free(&small);
}

START_TEST(test_tables)
{
    check_bounds("Lyr", "Lyr", NULL);
    check_bounds("ra_b1875_deg", "ra", "line 1: expected a column named ra_b1875_deg");
    check_bounds("\t290\t30", "\t290\t", "line 3: expected a declination");
    check_bounds("\t290\t30", "\t400\t30", "line 3: expected a right ascension");
    check_bounds("\t290\t30", "\t290\t31", "expected an edge along one of the two");
    check_bounds("Lyr", "Lyra", "line 2: expected an abbreviation");
    struct place_map missing;
    struct error err = {0};
    ck_assert_int_eq(place_map_load(&missing, "/nonexistent", &err), ERROR_INPUT);
}
END_TEST

Suite *place_suite(void)
{
    Suite *suite = suite_create("place");
    TCase *sky = tcase_create("bundled tables");
    tcase_add_unchecked_fixture(sky, load, unload);
    tcase_add_test(sky, serpens_has_two_parts);
    tcase_add_test(sky, test_samples);
    tcase_add_test(sky, test_everywhere);
    tcase_add_test(sky, test_corners);
    tcase_add_test(sky, test_stars_lie_in_their_constellation);
    tcase_add_test(sky, test_outline);
    tcase_add_test(sky, test_outline_parts);
    tcase_add_test(sky, test_nearest_star);
    tcase_set_timeout(sky, 60);
    suite_add_tcase(suite, sky);
    TCase *tables = tcase_create("tables");
    tcase_add_test(tables, test_tables);
    suite_add_tcase(suite, tables);
    return suite;
}
