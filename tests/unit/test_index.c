#include "match/index.h"

#include "base/random.h"
#include "base/units.h"
#include "build.h"
#include "demo/model_stars.h"
#include "index_fixture.h"
#include "match/fit.h"
#include "match/index_layout.h"
#include "match/quad.h"
#include "match/search.h"
#include "near.h"
#include "sample.h"
#include "scratch.h"
#include "sky/vector.h"

#include <chealpix.h>
#include <math.h>
#include <string.h>
#include <zlib.h>

Suite *index_suite(void);

/* Poles and the wrap of right ascension in turn, any place otherwise. */
static void place_of_round(double v[3], int round, struct random *random)
{
    static const double special[][2] = {{0, 90},  {0, -90},       {0, 0},      {360, 0},
                                        {180, 0}, {359.9999, 89}, {0.0001, 1}, {123, -89.9999}};
    enum { SPECIAL = sizeof special / sizeof special[0] };
    if (round % 3 == 0) {
        vector_from_radec(v, special[round / 3 % SPECIAL][0], special[round / 3 % SPECIAL][1]);
    } else {
        random_direction(random, v);
    }
}

/* Asserts cost more than what they look at, so loops over all stars count their faults. */

static double star_dot(const struct index *index, uint32_t star, const double v[3])
{
    double s[3];
    index_star_vector(s, &index->star[star]);
    return vector_dot(s, v);
}

/* HEALPix cell of a direction. */
static long pixel_of(const double v[3], int level)
{
    long pixel;
    vec2pix_nest(1L << level, v, &pixel);
    return pixel;
}

static long pixel_of_cell(const struct index_cell *cell, int level)
{
    const double place[2] = {cell->centre[0] / 32767.0, cell->centre[1] / 32767.0};
    double v[3];
    octahedron_unfold(v, place);
    return pixel_of(v, level);
}

/* Faults of one cell: its stars lie in it, brightest first, its centre is where HEALPix has it, and
 * its parts are a quarter of it each, one after the other. */
static int judge_cell(const struct index *index, int level, uint32_t number)
{
    const struct index_cell *cell = &index->cell[number];
    long pixel = pixel_of_cell(cell, level);
    double v[3], centre[3];
    const double place[2] = {cell->centre[0] / 32767.0, cell->centre[1] / 32767.0};
    pix2vec_nest(1L << level, pixel, v);
    octahedron_unfold(centre, place);
    int wrong = !(vector_angle_deg(v, centre) * RAD_PER_DEG < INDEX_CENTRE_ERROR);
    for (uint32_t star = cell->first_star; star < cell[1].first_star; star++) {
        index_star_vector(v, &index->star[star]);
        wrong += pixel_of(v, level) != pixel ||
                 (star > cell->first_star && index->star[star].mag < index->star[star - 1].mag);
    }
    if (level + 1 < index->levels) {
        bool last = number + 1 == index->level[level + 1];
        uint32_t end = last ? index->level[level + 2] : cell[1].first_part;
        wrong += end < cell->first_part || end > cell->first_part + 4 ||
                 (end == cell->first_part && cell[1].first_star == cell->first_star);
        for (uint32_t part = cell->first_part; part < end; part++) {
            wrong += pixel_of_cell(&index->cell[part], level + 1) >> 2 != pixel;
        }
    }
    return wrong;
}

/* Each star stands in the level of its rank and in its HEALPix cell: the fixture covers the whole
 * sky, so level l has 48 * 4^l stars. */
START_TEST(test_levels_and_cells)
{
    const struct index *index = fixture_index();
    int16_t faintest_before = INT16_MIN, faintest = INT16_MIN;
    int wrong = 0;
    uint32_t star = 0;
    for (int level = 0; level < index->levels; level++) {
        long before = -1;
        uint32_t first = star;
        for (uint32_t c = index->level[level]; c < index->level[level + 1]; c++) {
            long pixel = pixel_of_cell(&index->cell[c], level);
            wrong += pixel <= before || index->cell[c].first_star != star;
            wrong += judge_cell(index, level, c);
            before = pixel;
            for (; star < index->cell[c + 1].first_star; star++) {
                wrong += index->star[star].mag < faintest_before;
                faintest = index->star[star].mag > faintest ? index->star[star].mag : faintest;
            }
        }
        faintest_before = faintest;
        if (level + 1 < index->levels) {
            ck_assert_uint_eq(star - first, UINT32_C(48) << (2 * level));
        }
    }
    ck_assert_uint_eq(star, index->stars);
    ck_assert_int_eq(index->levels, 5);
    ck_assert_int_eq(wrong, 0);
}
END_TEST

static int compare_mag(const void *left, const void *right)
{
    return *(const int16_t *)left - *(const int16_t *)right;
}

/* Magnitudes of all stars that may be found, brightest first. */
static int magnitudes_around(int16_t *out, const struct index *index, const double v[3],
                             double radius, int mag)
{
    int count = 0;
    double least = cos(radius);
    for (uint32_t star = 0; star < index->stars; star++) {
        if (index->star[star].mag <= mag && star_dot(index, star, v) >= least) {
            out[count++] = index->star[star].mag;
        }
    }
    qsort(out, (size_t)count, sizeof *out, compare_mag);
    return count;
}

/* The brightest stars of a disc, against a look at all stars. Of stars of one magnitude any may be
 * named, so magnitudes are compared; that each star is in the disc and named once is too. */
START_TEST(test_brightest)
{
    const struct index *index = fixture_index();
    struct random random = {1};
    static int16_t all[20000];
    static uint32_t found[20000];
    static bool seen[20000];
    ck_assert_uint_lt(index->stars, 20000);
    for (int round = 0; round < 400; round++) {
        double v[3], radius = exp(random_between(&random, log(0.005), log(PI)));
        int mag = round % 5 ? INT16_MAX : (int)random_between(&random, 0, 7000);
        int limit = (int)exp(random_between(&random, 0, log(300)));
        place_of_round(v, round, &random);
        if (round % 50 == 0) {
            radius = PI;
            limit = 20000;
        }
        int want = magnitudes_around(all, index, v, radius, mag);
        int count = index_brightest(found, limit, index, v, radius, mag), wrong = 0;
        ck_assert_int_eq(count, want < limit ? want : limit);
        for (int i = 0; i < count; i++) {
            wrong += index->star[found[i]].mag != all[i] || seen[found[i]] ||
                     star_dot(index, found[i], v) < cos(radius);
            seen[found[i]] = true;
        }
        ck_assert_int_eq(wrong, 0);
        for (int i = 0; i < count; i++) {
            seen[found[i]] = false;
        }
    }
}
END_TEST

struct visited {
    unsigned char *times;
};

static void count_visit(uint32_t first, uint32_t end, void *context)
{
    struct visited *visited = context;
    for (uint32_t star = first; star < end; star++) {
        visited->times[star]++;
    }
}

/* No star of the disc is left out and none is shown twice. */
START_TEST(test_visits)
{
    const struct index *index = fixture_index();
    struct random random = {2};
    static unsigned char times[20000];
    struct visited visited = {times};
    for (int round = 0; round < 200; round++) {
        double v[3], radius = round % 20 ? exp(random_between(&random, -6, log(PI))) : PI;
        place_of_round(v, round, &random);
        memset(times, 0, sizeof times);
        int between = round % index->levels;
        for (int level = 0; level < between; level++) {
            index_visit_levels(index, level, level, v, radius, count_visit, &visited);
        }
        index_visit_levels(index, between, index->levels - 1, v, radius, count_visit, &visited);
        int wrong = 0;
        for (uint32_t star = 0; star < index->stars; star++) {
            bool in_disc = star_dot(index, star, v) >= cos(radius);
            wrong += times[star] > 1 || (times[star] == 0 && in_disc);
        }
        ck_assert_int_eq(wrong, 0);
    }
}
END_TEST

/* Nothing in a cell is farther from its centre than said, and something nearly is. */
START_TEST(test_cell_radius)
{
    struct random random = {3};
    for (int level = 0; level < INDEX_MAX_LEVELS; level++) {
        double farthest = 0, v[3], centre[3];
        for (int i = 0; i < 40000; i++) {
            long pixel;
            random_direction(&random, v);
            if (i % 2) { /* the worst corners */
                double across = random_between(&random, -1, 1) * index_cell_radius(level);
                double scale = sqrt(5.0 / 9 / (v[0] * v[0] + v[1] * v[1]));
                v[0] *= scale;
                v[1] *= scale;
                v[2] = 2.0 / 3 + 0.1 * across;
                vector_normalise(v);
            }
            vec2pix_nest(1L << level, v, &pixel);
            pix2vec_nest(1L << level, pixel, centre);
            farthest = fmax(farthest, vector_angle_deg(v, centre) * RAD_PER_DEG);
        }
        ck_assert_msg(farthest <= index_cell_radius(level), "level %d: %g > %g", level, farthest,
                      index_cell_radius(level));
        ck_assert_msg(farthest > 0.85 * index_cell_radius(level), "level %d: %g", level, farthest);
    }
}
END_TEST

/* Each cell that shapes can lie in has a number of its own, and the numbers have no gaps. */
START_TEST(test_cells_of_shapes)
{
    static const int cut[][2] = {{25, 4}, {50, 2}, {20, 5}, {2, 8}};
    for (size_t g = 0; g < sizeof cut / sizeof cut[0]; g++) {
        struct shape_grid grid;
        ck_assert(shape_grid_make(&grid, cut[g][0], cut[g][1]));
        const int parts = grid.parts;
        unsigned char *met = calloc(grid.cells, 1);
        int part[4];
        for (part[0] = -1; part[0] <= parts; part[0]++) {
            for (part[1] = -parts; part[1] <= parts; part[1]++) {
                for (part[2] = -1; part[2] <= parts + 1; part[2]++) {
                    for (part[3] = -parts; part[3] <= parts; part[3]++) {
                        uint32_t cell = shape_grid_cell(&grid, part);
                        ck_assert(cell <= grid.cells);
                        if (cell < grid.cells) {
                            met[cell]++;
                        }
                    }
                }
            }
        }
        for (uint32_t cell = 0; cell < grid.cells; cell++) {
            ck_assert_int_eq(met[cell], 1);
        }
        free(met);
    }
    struct shape_grid grid;
    ck_assert(!shape_grid_make(&grid, 1, 4));
    ck_assert(!shape_grid_make(&grid, 126, 1));
    ck_assert(!shape_grid_make(&grid, 25, 0));
    ck_assert(!shape_grid_make(&grid, 25, 9));
    ck_assert(!shape_grid_make(&grid, 3, 1)); /* 32000 is no multiple of 3 */
}
END_TEST

/* Splitting is dividing and rounding down, for all units and all ways to cut. */
START_TEST(test_split_of_shapes)
{
    for (int parts = 2; parts <= SHAPE_MOST_PARTS; parts++) {
        for (int steps = 1; steps <= SHAPE_MOST_STEPS; steps++) {
            struct shape_grid grid;
            if (!shape_grid_make(&grid, parts, steps)) {
                continue;
            }
            for (int u = -2 * SHAPE_UNIT - 9; u <= 2 * SHAPE_UNIT + 9; u++) {
                const int units[4] = {u, u, u, u};
                int part[4], step[4], whole = (int)floor((double)u * parts / SHAPE_UNIT);
                int all = (int)floor((double)u * parts * steps / SHAPE_UNIT);
                shape_grid_split(part, step, &grid, units);
                bool right = part[0] == whole && step[0] == all - whole * steps &&
                             part[3] == part[0] && step[3] == step[0];
                ck_assert_msg(right, "%d units, %d parts of %d steps", u, parts, steps);
            }
        }
    }
}
END_TEST

/* Any four points have a shape with a cell, and lie within the steps of it. */
START_TEST(test_every_shape_has_a_cell)
{
    struct random random = {4};
    struct shape_grid grid;
    ck_assert(shape_grid_make(&grid, 50, 2));
    for (int round = 0; round < 200000; round++) {
        double point[4][2], shape[4], diameter;
        int order[4], units[4], part[4], step[4], wrong = 0;
        for (int i = 0; i < 8; i++) {
            point[i / 2][i % 2] =
                round % 2 ? random_uniform(&random) : (int)random_between(&random, 0, 4);
        }
        if (!quad_shape(shape, order, &diameter, point)) {
            continue;
        }
        for (int i = 0; i < 4; i++) {
            units[i] = shape_units(shape[i]);
        }
        shape_grid_split(part, step, &grid, units);
        for (int i = 0; i < 4; i++) {
            int start = (part[i] * grid.steps + step[i]) * grid.step_units;
            wrong += units[i] < start || units[i] >= start + grid.step_units || step[i] < 0 ||
                     step[i] >= grid.steps || part[i] != shape_grid_part(&grid, units[i]);
        }
        ck_assert_int_eq(wrong, 0);
        ck_assert_uint_lt(shape_grid_cell(&grid, part), grid.cells);
    }
}
END_TEST

START_TEST(test_packed_numbers)
{
    struct random random = {5};
    for (int width = 0; width <= PACKED_WIDEST; width++) {
        enum { COUNT = 50 };
        unsigned char bytes[COUNT * 8 + PACKED_SLACK] = {0};
        uint64_t number[COUNT];
        for (uint64_t i = 0; i < COUNT; i++) {
            number[i] = random_bits(&random) & ((UINT64_C(1) << width) - 1);
            packed_put(bytes, i * (uint64_t)width, number[i]);
        }
        for (uint64_t i = 0; i < COUNT; i++) {
            ck_assert_uint_eq(packed_get(bytes, i * (uint64_t)width, width), number[i]);
        }
        ck_assert_uint_eq(packed_size(COUNT, width), (COUNT * (uint64_t)width + 7) / 8 + 8);
    }
    ck_assert_int_eq(packed_width(0), 0);
    ck_assert_int_eq(packed_width(255), 8);
    ck_assert_int_eq(packed_width(256), 9);
}
END_TEST

/* Directions come back from two numbers, on seams and corners of the octahedron too. */
START_TEST(test_folded_directions)
{
    struct random random = {6};
    for (int round = 0; round < 30000; round++) {
        double v[3], place[2], back[3];
        place_of_round(v, round, &random);
        for (int i = 0; i < 3; i++) {
            v[i] = round % 7 == i ? 0 : v[i];
        }
        if (vector_dot(v, v) < 0.1) {
            continue;
        }
        vector_normalise(v);
        octahedron_fold(place, v);
        ck_assert(fabs(place[0]) <= 1 && fabs(place[1]) <= 1);
        octahedron_unfold(back, place);
        ck_assert(vector_angle_deg(v, back) < 1e-13);
    }
}
END_TEST

/* Bits of count numbers spread over all that there are: what is below, a one for each, a zero for
 * each step of what is above. */
static double bits_of(double count, double all, int low)
{
    return count * (low + 1) + floor((all - 1) / exp2(low));
}

/* No other width takes fewer bits, but for one that may come from rounding. */
START_TEST(test_lower_parts)
{
    static const uint32_t stars[] = {4, 1000, 118216, 25000000, INT32_MAX};
    static const uint32_t counts[] = {1, 2, 3, 7, 20, 33, 47, 100, 254, 255, 4000};
    for (size_t s = 0; s < sizeof stars / sizeof *stars; s++) {
        struct index index = {.stars = stars[s]};
        index_set_neighbours(&index, 8);
        double all = 56.0 * stars[s];
        for (size_t c = 0; c < sizeof counts / sizeof *counts && counts[c] <= all; c++) {
            int low = index_low_width(&index, counts[c]);
            double bits = bits_of(counts[c], all, low);
            ck_assert_int_ge(low, 0);
            for (int other = 0; other < 40; other++) {
                ck_assert_msg(bits <= bits_of(counts[c], all, other) + 1,
                              "%u of %g: %d bits below, not %d", (unsigned)counts[c], all, other,
                              low);
            }
        }
    }
}
END_TEST

/* A quad, found through its block, is the shape of its four stars, in the cell and the steps where
 * it stands; the anchor is the faintest. The shape is held against the plane's. */
START_TEST(test_quads_are_their_stars)
{
    const struct index *index = fixture_index();
    uint32_t quads = 0, pair[2];
    const int steps = index->grid.steps;
    for (uint32_t cell = 0; cell < index->grid.cells; cell++) {
        struct index_block block;
        for (uint32_t i = 0; index_block_open(&block, index, cell) && i < block.count; i++) {
            struct index_quad quad;
            double direction[4][3], plane[4][2], shape[4], diameter;
            uint32_t anchor;
            int order[4], part[4], step[4];
            if (quads++ % 211) {
                continue;
            }
            ck_assert(index_numbered_quad(&quad, &anchor, index, index_block_number(&block, i)));
            for (int k = 0; k < 4; k++) {
                index_star_vector(direction[k], &index->star[quad.star[k]]);
                ck_assert(quad.star[k] == anchor ||
                          index->star[quad.star[k]].mag <= index->star[anchor].mag);
            }
            ck_assert(quad_sky_plane(plane, direction) &&
                      quad_shape(shape, order, &diameter, plane));
            assert_near(quad.diameter / diameter, 1, 1e-9, "ratio");
            for (int axis = 0; axis < 4; axis++) {
                ck_assert_int_le(abs(quad.shape[axis] - shape_units(shape[axis])), 1);
                ck_assert_int_eq(order[axis], axis);
            }
            shape_grid_split(part, step, &index->grid, quad.shape);
            index_block_pairs(pair, &block, i);
            ck_assert_uint_eq(shape_grid_cell(&index->grid, part), cell);
            ck_assert_uint_eq(pair[0], (unsigned)(step[0] * steps + step[1]));
            ck_assert_uint_eq(pair[1], (unsigned)(step[2] * steps + step[3]));
        }
    }
    ck_assert_uint_eq(quads, index->quads);
}
END_TEST

/* Numbers of threes: each of 455 has its own, which leads back to it. */
START_TEST(test_threes)
{
    static struct index index;
    index_set_neighbours(&index, 15);
    ck_assert_uint_eq(index.threes, 455);
    for (uint32_t n = 0; n < 455; n++) {
        const unsigned char *three = index.three[n];
        const int ordinal[3] = {three[0], three[1], three[2]};
        ck_assert(1 <= three[0] && three[0] < three[1] && three[1] < three[2] && three[2] <= 15);
        ck_assert_uint_eq(index_three_number(ordinal), n);
    }
    index_set_neighbours(&index, 7);
    ck_assert_uint_eq(index.threes, 35);
}
END_TEST

/* An index of some 1,600 stars for damaging, made once. */
static unsigned char *sound;
static size_t sound_size;

static void make_sound(void)
{
    struct error err = {0};
    struct catalogue catalogue = {0};
    struct build_report report;
    const struct build_options options = {.name = "for damaging", .faintest = 5};
    fixture_catalogue(&catalogue);
    int code = fixture_build(&sound, &sound_size, &report, &catalogue, &options, &err);
    catalogue_free(&catalogue);
    ck_assert_msg(code == 0, "%s", err.text);
}

static void free_sound(void)
{
    free(sound);
    sound = NULL;
}

static unsigned char *copy_of(const unsigned char *bytes, size_t size)
{
    unsigned char *copy = malloc(size ? size : 1);
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, bytes, size);
    return copy;
}

static void put(unsigned char *p, uint64_t value, int bytes)
{
    for (int i = 0; i < bytes; i++) {
        p[i] = (unsigned char)(value >> (8 * i));
    }
}

static uint64_t get(const unsigned char *p, int bytes)
{
    uint64_t value = 0;
    for (int i = bytes - 1; i >= 0; i--) {
        value = value << 8 | p[i];
    }
    return value;
}

static unsigned char *row_of(unsigned char *b, int section)
{
    return b + LAYOUT_TABLE + 32 * section;
}

static unsigned char *section_of(unsigned char *b, int section)
{
    return b + get(row_of(b, section) + 8, 8);
}

/* Makes the checksum of the header right again; index_layout_checksum is tested on its own. */
static void seal_header(unsigned char *b)
{
    put(b + 28, index_layout_checksum(b), 4);
}

static void seal_section(unsigned char *b, int section)
{
    unsigned char *row = row_of(b, section);
    put(row + 4, crc32_z(0, section_of(b, section), get(row + 16, 8)), 4);
    seal_header(b);
}

static void assert_refused(int code, const struct error *err, const char *expected)
{
    ck_assert_msg(code == ERROR_INPUT, "code %d, expected \"%s\"", code, expected);
    ck_assert_msg(strstr(err->text, expected) != NULL, "\"%s\" does not say \"%s\"", err->text,
                  expected);
    ck_assert_ptr_null(strchr(err->text, '\n'));
}

enum { IDNO, STAR, CELL, NEAR, QUAD, CODE };
enum { HEADER = 384 + 6 * 32 };

/* The checksum of the header is CRC-32 over header and table, its own field as zeros. */
START_TEST(test_header_checksum)
{
    unsigned char *b = copy_of(sound, HEADER);
    uint32_t stated = (uint32_t)get(b + 28, 4);
    put(b + 28, 0, 4);
    ck_assert_uint_eq(crc32(0, b, HEADER), stated);
    ck_assert_uint_eq(index_layout_checksum(sound), stated);
    free(b);
}
END_TEST

/* A header with one field changed, sealed again. */
static const struct {
    int offset, bytes;
    uint64_t value;
    const char *expected;
} header_faults[] = {
    {0, 1, 'X', "not an index"},
    {4, 4, 0x0a0d0a58, "not an index"},
    {8, 4, 0x04030201, "other byte order (big-endian)"},
    {8, 4, 0x01020305, "unknown byte order mark 0x01020305"},
    {12, 4, 2, "version 2, expected 3; alidade-index build makes it anew"},
    {12, 4, 1, "version 1, expected 3; alidade-index build makes it anew"},
    {12, 4, 0, "version 0, expected 3"},
    {24, 4, 5, "header of the index is damaged"},
    {32, 4, 0, "claims 0 stars"},
    {32, 4, 0x80000000, "claims 2147483648 stars"},
    {36, 4, 0x80000000, "2147483648 quads"},
    {40, 4, 0, "0 levels"},
    {40, 4, 15, "15 levels"},
    {44, 4, 2, "2 neighbours"},
    {44, 4, 16, "16 neighbours"},
    {60, 4, 65, "which cannot be"},
    {256, 4, 126, "cuts shapes into 126 parts of 4 steps"},
    {256, 4, 24, "cuts shapes into 24 parts"},
    {260, 4, 0, "parts of 0 steps"},
    {260, 4, 9, "parts of 9 steps"},
    {264, 4, 1, "level 0 of the index is out of order"},
    {268, 4, 0, "level 1 of the index is out of order"},
    {276, 4, 0x80000000, "level 3 of the index is out of order"},
};

START_TEST(test_header_faults)
{
    unsigned char *b = copy_of(sound, sound_size);
    for (size_t i = 0; i < sizeof header_faults / sizeof header_faults[0]; i++) {
        struct error err = {0};
        struct index index = {0};
        put(b + header_faults[i].offset, header_faults[i].value, header_faults[i].bytes);
        seal_header(b);
        assert_refused(index_decode(&index, b, sound_size, &err), &err, header_faults[i].expected);
        ck_assert_ptr_null(index.star);
        memcpy(b, sound, HEADER);
    }
    free(b);
}
END_TEST

/* One bit changed anywhere in header and table, and not sealed, is noticed. */
START_TEST(test_header_bits)
{
    unsigned char *b = copy_of(sound, sound_size);
    for (int bit = 0; bit < 8 * (HEADER); bit++) {
        struct index index;
        struct error err = {0};
        b[bit / 8] ^= (unsigned char)(1 << bit % 8);
        assert_refused(index_decode(&index, b, sound_size, &err), &err, "index");
        b[bit / 8] ^= (unsigned char)(1 << bit % 8);
    }
    struct index index;
    ck_assert_int_eq(index_decode(&index, b, sound_size, NULL), 0);
    free(b);
}
END_TEST

/* Rows of the section table with one field changed, sealed again. */
static const struct {
    int section, field, bytes;
    int64_t change;
    const char *expected;
} row_faults[] = {
    {STAR, 0, 1, 1, "section STAR of the index does not fit"},
    {IDNO, 0, 4, 1, "section IDNO of the index does not fit"},
    {CELL, 8, 8, 32, "section CELL of the index does not fit"},
    {NEAR, 8, 8, 64, "section NEAR"},
    {CODE, 8, 8, 64, "section CODE of the index does not fit"},
    {QUAD, 8, 8, INT64_C(1) << 40, "section QUAD of the index does not fit"},
    {QUAD, 8, 8, -64 - (INT64_C(1) << 62), "section QUAD of the index does not fit"},
    {NEAR, 16, 8, 4, "section NEAR of the index does not fit"},
    {NEAR, 16, 8, -4, "section NEAR of the index does not fit"},
    {QUAD, 16, 8, INT64_C(1) << 40, "section QUAD of the index does not fit"},
    {QUAD, 24, 8, 1, "section QUAD of the index does not fit"},
    {CODE, 24, 8, 1, "section CODE of the index does not fit"},
    {CODE, 24, 8, -1, "section CODE of the index does not fit"},
};

START_TEST(test_row_faults)
{
    unsigned char *b = copy_of(sound, sound_size);
    for (size_t i = 0; i < sizeof row_faults / sizeof row_faults[0]; i++) {
        struct error err = {0};
        unsigned char *field = row_of(b, row_faults[i].section) + row_faults[i].field;
        put(field, get(field, row_faults[i].bytes) + (uint64_t)row_faults[i].change,
            row_faults[i].bytes);
        seal_header(b);
        /* A section that is only elsewhere fits, but its checksum does not. */
        assert_refused(index_check(b, sound_size, &err), &err, row_faults[i].expected);
        memcpy(b, sound, HEADER);
    }
    free(b);
}
END_TEST

/* Over the header, and so far out that offset and length together come round to 0. */
START_TEST(test_section_over_the_header)
{
    static const uint64_t offsets[] = {0, 64, 384, UINT64_MAX - 63, UINT64_MAX - 4095};
    struct index index;
    unsigned char *b = copy_of(sound, sound_size);
    for (size_t i = 0; i < sizeof offsets / sizeof offsets[0]; i++) {
        struct error err = {0};
        put(row_of(b, IDNO) + 8, offsets[i], 8);
        seal_header(b);
        assert_refused(index_decode(&index, b, sound_size, &err), &err, "section IDNO");
    }
    free(b);
}
END_TEST

/* Counts so large that their products with the record sizes are near the ends of their types. */
START_TEST(test_counts_do_not_overflow)
{
    struct error err = {0};
    struct index index;
    unsigned char *b = copy_of(sound, sound_size);
    put(b + 32, 0x7fffffff, 4);
    put(b + 36, 0x7fffffff, 4);
    put(b + 40, 14, 4);
    put(b + 44, 15, 4);
    put(b + 60, 64, 4);
    for (int level = 0; level <= 14; level++) {
        put(b + 264 + 4 * level, level ? 0x7ffffff0u + (unsigned)level : 0, 4);
    }
    const uint64_t stars = 0x7fffffff;
    put(row_of(b, IDNO) + 16, stars * 8 + 8, 8);
    put(row_of(b, IDNO) + 24, stars, 8);
    seal_header(b);
    assert_refused(index_decode(&index, b, sound_size, &err), &err, "section IDNO");
    free(b);
}
END_TEST

/* Cut off anywhere, and a byte too long, as it comes and with the stated size put right. */
START_TEST(test_every_length)
{
    for (size_t size = 0; size <= sound_size + 1; size += size < 600 ? 1 : 104729) {
        if (size == sound_size) {
            continue;
        }
        struct index index;
        struct error err = {0};
        unsigned char *b = copy_of(sound, size < sound_size ? size : sound_size);
        if (size > sound_size) {
            b = realloc(b, size);
            b[size - 1] = 0;
        }
        assert_refused(index_decode(&index, b, size, &err), &err,
                       size < HEADER ? "too few to hold even its header" : "the index says it has");
        if (size >= HEADER) {
            put(b + 16, size, 8);
            seal_header(b);
            assert_refused(index_decode(&index, b, size, &err), &err, "section ");
        }
        free(b);
    }
    unsigned char *b = copy_of(sound, sound_size);
    b = realloc(b, sound_size + 1);
    b[sound_size] = 0;
    struct index index;
    struct error err = {0};
    assert_refused(index_decode(&index, b, sound_size + 1, &err), &err, "the index says it has");
    free(b);
}
END_TEST

/* Damage behind a header that is in order. Each gets the file and its decoded views. */
typedef int damage(unsigned char *b, const struct index *index);

static int stale_checksum(unsigned char *b, const struct index *index)
{
    (void)index;
    section_of(b, IDNO)[5] ^= 1;
    return -1; /* not sealed */
}

static void swap_stars(unsigned char *b, uint32_t first, uint32_t second)
{
    unsigned char *star = section_of(b, STAR), keep[12];
    memcpy(keep, star + 12 * first, 12);
    memcpy(star + 12 * first, star + 12 * second, 12);
    memcpy(star + 12 * second, keep, 12);
}

/* A star of level 2 goes to the other side of the sky. */
static int wrong_cell(unsigned char *b, const struct index *index)
{
    uint32_t number = index->cell[index->level[2]].first_star;
    double v[3];
    int32_t place[2];
    index_star_vector(v, &index->star[number]);
    for (int i = 0; i < 3; i++) {
        v[i] = -v[i];
    }
    index_set_place(place, v);
    for (int i = 0; i < 2; i++) {
        put(section_of(b, STAR) + 12 * number + 4 * i, (uint64_t)(int64_t)place[i], 4);
    }
    return STAR;
}

/* Two stars of one cell change places. */
static int wrong_order(unsigned char *b, const struct index *index)
{
    uint32_t cell = index->level[2];
    while (index->cell[cell + 1].first_star < index->cell[cell].first_star + 2 ||
           index->star[index->cell[cell].first_star].mag ==
               index->star[index->cell[cell].first_star + 1].mag) {
        cell++;
    }
    swap_stars(b, index->cell[cell].first_star, index->cell[cell].first_star + 1);
    return STAR;
}

static unsigned char *cell_of(unsigned char *b, uint32_t number)
{
    return section_of(b, CELL) + 12 * number;
}

static int cells_out_of_order(unsigned char *b, const struct index *index)
{
    put(cell_of(b, 20) + 4, index->cell[19].first_star - 1, 4);
    return CELL;
}

static int cell_beyond_the_stars(unsigned char *b, const struct index *index)
{
    put(cell_of(b, 20) + 4, index->stars + 1, 4);
    return CELL;
}

static int cells_end_early(unsigned char *b, const struct index *index)
{
    put(cell_of(b, index->level[index->levels]) + 4, index->stars - 1, 4);
    return CELL;
}

static int cells_start_late(unsigned char *b, const struct index *index)
{
    (void)index;
    put(cell_of(b, 0) + 4, 1, 4);
    return CELL;
}

static int parts_out_of_order(unsigned char *b, const struct index *index)
{
    put(cell_of(b, 5) + 8, index->cell[4].first_part - 1, 4);
    return CELL;
}

static int too_many_parts(unsigned char *b, const struct index *index)
{
    put(cell_of(b, 5) + 8, index->cell[5].first_part + 1, 4);
    return CELL;
}

static int parts_of_another_level(unsigned char *b, const struct index *index)
{
    put(cell_of(b, 0) + 8, index->level[2], 4);
    return CELL;
}

/* The nearest neighbour of star 100 becomes another. */
static int put_neighbour(unsigned char *b, const struct index *index, uint64_t star)
{
    uint64_t bit = (uint64_t)100 * (uint64_t)index->neighbours * (uint64_t)index->near_width;
    unsigned char *near = section_of(b, NEAR);
    for (int i = 0; i < index->near_width; i++, bit++) {
        unsigned char one = (unsigned char)(1 << (bit & 7));
        near[bit >> 3] = (unsigned char)((near[bit >> 3] & ~one) | (star >> i & 1 ? one : 0));
    }
    return NEAR;
}

static int fainter_neighbour(unsigned char *b, const struct index *index)
{
    uint32_t faint = 0;
    while (index->star[faint].mag <= index->star[100].mag) {
        faint++;
    }
    return put_neighbour(b, index, faint);
}

static int own_neighbour(unsigned char *b, const struct index *index)
{
    return put_neighbour(b, index, 100);
}

/* A cell with some quads, and where it begins. */
static uint64_t full_block(uint32_t *cell, const struct index *index)
{
    struct index_block block;
    *cell = 0;
    while (!index_block_open(&block, index, *cell) || block.count < 2) {
        ++*cell;
    }
    return index_block_start(index, *cell);
}

static int code_cells_out_of_order(unsigned char *b, const struct index *index)
{
    uint32_t cell = index->grid.cells / 2;
    unsigned char *code = section_of(b, CODE);
    uint64_t bit = (uint64_t)cell * (uint64_t)index->block_width;
    for (int i = 0; i < index->block_width; i++, bit++) {
        code[bit >> 3] &= (unsigned char)~(1 << (bit & 7));
    }
    return CODE;
}

static int altered_count(unsigned char *b, const struct index *index)
{
    uint32_t cell;
    section_of(b, QUAD)[full_block(&cell, index)] = 200;
    return QUAD;
}

static int no_count(unsigned char *b, const struct index *index)
{
    uint32_t cell;
    section_of(b, QUAD)[full_block(&cell, index)] = 0;
    return QUAD;
}

static int altered_steps(unsigned char *b, const struct index *index)
{
    uint32_t cell;
    section_of(b, QUAD)[full_block(&cell, index) + 1] ^= 1;
    return QUAD;
}

static int altered_number(unsigned char *b, const struct index *index)
{
    uint32_t cell;
    section_of(b, QUAD)[full_block(&cell, index) + 2] ^= 1;
    return QUAD;
}

static int altered_upper_part(unsigned char *b, const struct index *index)
{
    uint32_t cell;
    full_block(&cell, index);
    section_of(b, QUAD)[index_block_start(index, cell + 1) - 1] = 0;
    return QUAD;
}

static int fewer_quads(unsigned char *b, const struct index *index)
{
    put(b + 36, index->quads - 1, 4);
    put(row_of(b, QUAD) + 24, index->quads - 1, 8);
    return QUAD;
}

static const struct {
    damage *make;
    const char *expected;
} content_faults[] = {
    {stale_checksum, "section IDNO of the index is damaged: checksum"},
    {wrong_cell, "does not belong at its place in cell"},
    {wrong_order, "does not belong at its place in cell"},
    {cells_out_of_order, "cell 19 of the index: its stars"},
    {cell_beyond_the_stars, "the index: its stars"},
    {cells_end_early, "cells of the index do not hold all its stars"},
    {cells_start_late, "cells of the index do not hold all its stars"},
    {parts_out_of_order, "cell 4 of the index: its parts"},
    {too_many_parts, "cell 4 of the index: its parts"},
    {parts_of_another_level, "cell 0 of the index: its parts"},
    {fainter_neighbour, "of star 100 of the index is not a brighter star"},
    {own_neighbour, "neighbour 100 of star 100 of the index is not a brighter star"},
    {code_cells_out_of_order, "of the index: its bytes"},
    {altered_count, "the quads of shape cell"},
    {no_count, "the quads of shape cell"},
    {altered_steps, "is not what its stars make"},
    {altered_number, "is not what its stars make"},
    {altered_upper_part, "is not what its stars make"},
    {fewer_quads, "the shape cells of the index do not hold all its quads"},
};

START_TEST(test_content_faults)
{
    for (size_t i = 0; i < sizeof content_faults / sizeof content_faults[0]; i++) {
        struct error err = {0};
        struct index index;
        unsigned char *b = copy_of(sound, sound_size);
        ck_assert_int_eq(index_decode(&index, b, sound_size, &err), 0);
        int section = content_faults[i].make(b, &index);
        if (section >= 0) {
            seal_section(b, section);
        }
        ck_assert_msg(index_decode(&index, b, sound_size, &err) == 0, "%s", err.text);
        assert_refused(index_check(b, sound_size, &err), &err, content_faults[i].expected);
        free(b);
    }
}
END_TEST

START_TEST(test_sound_index_passes)
{
    struct error err = {0};
    ck_assert_msg(index_check(sound, sound_size, &err) == 0, "%s", err.text);
    size_t size;
    const unsigned char *bytes = fixture_bytes(&size);
    ck_assert_msg(index_check(bytes, size, &err) == 0, "%s", err.text);
}
END_TEST

START_TEST(test_files)
{
    struct index_file file = {0};
    struct error err = {0};
    scratch_make();
    const char *path = scratch_write("sound.alidx", sound, sound_size);
    ck_assert_msg(index_open(&file, path, &err) == 0, "%s", err.text);
    ck_assert_str_eq(file.index.facts.name, "for damaging");
    ck_assert_uint_eq(file.index.size, sound_size);
    index_close(&file);
    index_close(&file);
    path = scratch_write("short.alidx", sound, sound_size / 2);
    assert_refused(index_open(&file, path, &err), &err, "short.alidx: the index says it has");
    path = scratch_write("empty.alidx", "", 0);
    assert_refused(index_open(&file, path, &err), &err, "empty.alidx");
    assert_refused(index_open(&file, scratch_path("none.alidx"), &err), &err, "none.alidx");
    ck_assert_ptr_null(file.index.star);
    scratch_remove();
}
END_TEST

/* A part of a file that was changed, so that it can be mended from the original. */
struct wound {
    size_t first, end;
};

static void flip_some(unsigned char *b, struct wound wound, size_t flips, struct random *random)
{
    double length = (double)(wound.end - wound.first);
    for (size_t i = 0; i < flips; i++) {
        uint64_t bits = random_bits(random);
        b[wound.first + (size_t)((double)(bits >> 11) * 0x1p-53 * length)] ^=
            (unsigned char)(1 << (bits & 7));
    }
}

/* Half of all bits. */
static void flip_half(unsigned char *b, struct wound wound, struct random *random)
{
    for (size_t i = wound.first; i + 8 <= wound.end; i += 8) {
        put(b + i, get(b + i, 8) ^ random_bits(random), 8);
    }
}

/* Turns bits over behind the section table: a few anywhere, or more of them or half of them in a
 * stretch of one section. */
static struct wound flip(unsigned char *b, size_t size, struct random *random)
{
    struct wound wound = {HEADER, size};
    int section = (int)(random_uniform(random) * 8);
    if (section >= 6) {
        flip_some(b, wound, (size_t)exp(random_between(random, 0, log(500))), random);
        return wound;
    }
    size_t length = (size_t)get(row_of(b, section) + 16, 8);
    size_t part = (size_t)((double)length * sqrt(sqrt(random_uniform(random))));
    wound.first = (size_t)get(row_of(b, section) + 8, 8) +
                  (size_t)(random_uniform(random) * (double)(length - part));
    wound.end = wound.first + part;
    if (random_uniform(random) < 0.3) {
        flip_half(b, wound, random);
    } else {
        flip_some(b, wound, part / (size_t)exp(random_between(random, log(6), log(500))), random);
    }
    return wound;
}

struct task {
    const struct star_list *list;
    const struct index *index;
    bool fit; /* what was found; it takes long */
};

static bool fits(const struct verdict *verdict, bool mirrored, void *context)
{
    const struct task *task = context;
    struct solution solution = {0};
    if (!task->fit) {
        return true;
    }
    int code =
        fit_solution(&solution, verdict, mirrored, task->list, task->index, NULL, NULL, NULL);
    solution_free(&solution);
    return code == 0;
}

/* The first stages of a search for one list. */
static bool search_briefly(const struct star_list *list, const struct index *index, bool fit)
{
    static struct detections direct, mirrored;
    struct search_state state = {0};
    struct task task = {list, index, fit};
    const struct search_options options = {
        .verify = {.prior = {0.02, 30}, .scale_low = 30, .scale_high = 200},
        .near_cos = -2,
        .accept_log10 = -6,
        .both_hands = true,
        .confirm = fits,
        .context = &task};
    detections_make(&direct, list);
    detections_mirror(&mirrored, &direct);
    for (int i = 0; i < 3 && !state.accepted; i++) {
        search_stage(&state, &search_stages[i], &direct, &mirrored, index, &options);
    }
    return state.accepted;
}

/* A search with a damaged index comes to an end, with any answer. Headers are damaged and sealed
 * too: most are refused, the rest must do no harm either. */
START_TEST(test_damaged_index_does_no_harm)
{
    size_t size;
    const unsigned char *bytes = fixture_bytes(&size);
    unsigned char *b = copy_of(bytes, size);
    struct random random = {11};
    struct model_stars model = {0};
    const struct model_options options = {
        .lens = {.scale_arcsec = 72, .width = 1500, .height = 1000},
        .ra_deg = 83,
        .dec_deg = 0,
        .position_noise_px = 0.2,
        .max_stars = 60,
        .spurious = 0.3,
        .only_listed = true};
    ck_assert_int_eq(model_star_list(&model, fixture_sky(), &options, NULL), 0);
    int decoded = 0, solved = 0;
    const int rounds = sample(2000);
    for (int round = 0; round < rounds; round++) {
        struct index index;
        struct wound wound = flip(b, size, &random);
        unsigned char header[HEADER];
        memcpy(header, b, sizeof header);
        if (round % 4 == 0) {
            size_t place = 32 + (size_t)(random_uniform(&random) * (HEADER - 32));
            b[place] ^= (unsigned char)(1 << (int)(random_uniform(&random) * 8));
        }
        seal_header(b);
        if (index_decode(&index, b, size, NULL) == 0) {
            decoded++;
            solved += search_briefly(&model.list, &index, round % 5 == 0);
        }
        memcpy(b, header, sizeof header);
        memcpy(b + wound.first, bytes + wound.first, wound.end - wound.first);
    }
    ck_assert_mem_eq(b + HEADER, bytes + HEADER, size - HEADER);
    /* Most headers stay whole, and most damage spares enough for this one list; some does not. */
    ck_assert_int_gt(10 * decoded, 8 * rounds);
    ck_assert_int_gt(10 * solved, 4 * rounds);
    ck_assert_int_lt(solved, decoded);
    model_stars_free(&model);
    free(b);
}
END_TEST

Suite *index_suite(void)
{
    Suite *suite = suite_create("index");
    TCase *reading = tcase_create("reading an index");
    tcase_add_unchecked_fixture(reading, fixture_make_index, NULL);
    tcase_add_test(reading, test_levels_and_cells);
    tcase_add_test(reading, test_brightest);
    tcase_add_test(reading, test_visits);
    tcase_add_test(reading, test_cell_radius);
    tcase_add_test(reading, test_cells_of_shapes);
    tcase_add_test(reading, test_split_of_shapes);
    tcase_add_test(reading, test_every_shape_has_a_cell);
    tcase_add_test(reading, test_packed_numbers);
    tcase_add_test(reading, test_folded_directions);
    tcase_add_test(reading, test_threes);
    tcase_add_test(reading, test_lower_parts);
    tcase_add_test(reading, test_quads_are_their_stars);
    suite_add_tcase(suite, reading);
    TCase *damage_case = tcase_create("damaged indexes");
    tcase_add_unchecked_fixture(damage_case, fixture_make_both, NULL);
    tcase_add_unchecked_fixture(damage_case, make_sound, free_sound);
    tcase_set_timeout(damage_case, 120);
    tcase_add_test(damage_case, test_sound_index_passes);
    tcase_add_test(damage_case, test_header_checksum);
    tcase_add_test(damage_case, test_header_faults);
    tcase_add_test(damage_case, test_header_bits);
    tcase_add_test(damage_case, test_row_faults);
    tcase_add_test(damage_case, test_section_over_the_header);
    tcase_add_test(damage_case, test_counts_do_not_overflow);
    tcase_add_test(damage_case, test_every_length);
    tcase_add_test(damage_case, test_content_faults);
    tcase_add_test(damage_case, test_files);
    tcase_add_test(damage_case, test_damaged_index_does_no_harm);
    suite_add_tcase(suite, damage_case);
    return suite;
}
