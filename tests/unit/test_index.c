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

/* Level of the n-th brightest star of the sky, from FORMAT.md. */
static int level_of_rank(uint32_t n)
{
    int level = 0;
    for (uint32_t end = 48, next = 192; n >= end; end += next, next *= 4) {
        level++;
    }
    return level;
}

static double star_dot(const struct index *index, uint32_t star, const double v[3])
{
    double s[3];
    index_star_vector(s, &index->star[star]);
    return vector_dot(s, v);
}

/* Each star stands in the level of its rank and in its HEALPix cell, brightest first. */
START_TEST(test_levels_and_cells)
{
    const struct index *index = fixture_index();
    int levels = level_of_rank(index->stars - 1) + 1;
    ck_assert_int_eq(index->levels, levels);
    int16_t faintest_before = INT16_MIN, faintest = INT16_MIN;
    int misplaced = 0;
    for (int level = 0; level < levels; level++) {
        uint32_t first_cell = index_first_cell(level), pixels = UINT32_C(12) << (2 * level);
        uint32_t first_star = index->cell[first_cell].first_star;
        uint32_t end_star = index->cell[first_cell + pixels].first_star;
        ck_assert_int_eq(level_of_rank(first_star), level);
        ck_assert_int_eq(level_of_rank(end_star - 1), level);
        for (uint32_t pixel = 0; pixel < pixels; pixel++) {
            const struct index_cell *cell = &index->cell[first_cell + pixel];
            double v[3];
            pix2vec_nest(1L << level, (long)pixel, v);
            for (int i = 0; i < 3; i++) {
                misplaced += !(fabs(cell->v[i] - v[i]) < 1e-7);
            }
            for (uint32_t star = cell->first_star; star < cell[1].first_star; star++) {
                long found;
                index_star_vector(v, &index->star[star]);
                vec2pix_nest(1L << level, v, &found);
                misplaced +=
                    found != (long)pixel || index->star[star].mag < faintest_before ||
                    (star > cell->first_star && index->star[star].mag < index->star[star - 1].mag);
                faintest = index->star[star].mag > faintest ? index->star[star].mag : faintest;
            }
        }
        faintest_before = faintest;
    }
    ck_assert_int_eq(misplaced, 0);
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
        for (int level = 0; level < index->levels; level++) {
            index_visit_level(index, level, v, radius, count_visit, &visited);
        }
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

/* Shape numbers, cells of an axis and cells of the shape fit together. */
START_TEST(test_code_cells)
{
    for (int axis = 0; axis < 4; axis++) {
        int parts = axis % 2 ? INDEX_IM_CELLS : INDEX_RE_CELLS;
        ck_assert_int_eq(index_shape_start(0, axis), axis % 2 ? -23 * INDEX_CELL_UNITS : 0);
        for (int part = -3; part < parts + 3; part++) {
            int start = index_shape_start(part, axis);
            ck_assert_int_eq(index_shape_part(start, axis), part);
            ck_assert_int_eq(index_shape_part(start + INDEX_CELL_UNITS - 1, axis), part);
            ck_assert_int_eq(index_shape_part(start - 1, axis), part - 1);
        }
    }
    const int low[4] = {0, 0, 0, 0}, below[4] = {-1, -7, -2, -1};
    const int high[4] = {25, 45, 25, 45}, above[4] = {26, 60, 99, 46};
    ck_assert_uint_eq(index_shape_cell(low), 0);
    ck_assert_uint_eq(index_shape_cell(below), 0);
    ck_assert_uint_eq(index_shape_cell(high), INDEX_SHAPE_CELLS - 1);
    ck_assert_uint_eq(index_shape_cell(above), INDEX_SHAPE_CELLS - 1);
    const int some[4] = {3, 5, 7, 11};
    ck_assert_uint_eq(index_shape_cell(some), ((3 * 46 + 5) * 26 + 7) * 46 + 11);
}
END_TEST

/* A stored quad, read back through its members, is the shape of its four stars to the step it is
 * stored with, in the cell where it stands. */
START_TEST(test_quads_are_their_stars)
{
    const struct index *index = fixture_index();
    uint32_t cell = 0;
    for (uint32_t q = 0; q < index->quads; q += 211) {
        const struct index_quad *quad = &index->quad[q];
        double direction[4][3], plane[4][2], shape[4], diameter;
        uint32_t star[4];
        int order[4], part[4];
        while (index->bucket[cell + 1] <= q) {
            cell++;
        }
        ck_assert(index_quad_stars(star, index, quad));
        for (int i = 0; i < 4; i++) {
            index_star_vector(direction[i], &index->star[star[i]]);
            ck_assert(star[i] == quad->anchor ||
                      index->star[star[i]].mag <= index->star[quad->anchor].mag);
        }
        ck_assert(quad_sky_plane(plane, direction) && quad_shape(shape, order, &diameter, plane));
        assert_near(exp((quad->diameter - 24000) / 2000.0) / diameter, 1, 3e-4, "ratio");
        ck_assert_uint_eq(quad->diameter, index_store_diameter(diameter));
        for (int axis = 0; axis < 4; axis++) {
            int units = (int)lrint(shape[axis] * INDEX_SHAPE_UNIT);
            part[axis] = index_shape_part(units, axis);
            int stored = index_shape_start(part[axis], axis) + quad->shape[axis] * INDEX_SHAPE_STEP;
            ck_assert_int_ge(units - stored, 0);
            ck_assert_int_lt(units - stored, INDEX_SHAPE_STEP);
            ck_assert_int_eq(order[axis], axis);
        }
        ck_assert_uint_eq(index_shape_cell(part), cell);
    }
}
END_TEST

/* Stars as they come from their right ascension and declination. */
static void set_star(struct index_star *star, double ra_deg, double dec_deg)
{
    double v[3];
    vector_from_radec(v, ra_deg, dec_deg);
    *star = (struct index_star){.colour = INDEX_NO_COLOUR};
    for (int i = 0; i < 3; i++) {
        star->v[i] = (int32_t)lrint(v[i] * 2147483647.0);
    }
}

/* Limits of a scale become limits of stored diameters, however far out they are. */
START_TEST(test_diameters_at_the_limits)
{
    ck_assert_uint_eq(index_store_diameter(0), 0);
    ck_assert_uint_eq(index_store_diameter(1e-30), 0);
    ck_assert_uint_eq(index_store_diameter(1), 24000);
    ck_assert_uint_eq(index_store_diameter(1e30), UINT16_MAX);
}
END_TEST

START_TEST(test_quads_that_are_not_made)
{
    struct index_star star[5];
    uint32_t near[5 * 3] = {1, 2, 3, 0, 2, 3, 0, 1, INDEX_NO_STAR, 1, 2, 4, 1, 2, 9};
    const struct index index = {.star = star, .stars = 5, .near = near, .neighbours = 3};
    static const int ordinal[3] = {1, 2, 3}, beyond[3] = {1, 2, 4};
    struct index_quad quad;
    uint32_t cell, stars[4];
    set_star(&star[0], 10, 0);
    set_star(&star[1], 20, 1);
    set_star(&star[2], 15, 8);
    set_star(&star[3], 12, 4);
    set_star(&star[4], 12 + 19 / 3600.0, 4);
    ck_assert(index_make_quad(&quad, &cell, &index, 0, ordinal));
    ck_assert(index_quad_stars(stars, &index, &quad));
    ck_assert(!index_make_quad(&quad, &cell, &index, 0, beyond));
    ck_assert(!index_make_quad(&quad, &cell, &index, 2, ordinal)); /* no third neighbour */
    ck_assert(!index_make_quad(&quad, &cell, &index, 4, ordinal)); /* it does not exist */
    ck_assert(!index_make_quad(&quad, &cell, &index, 3, ordinal)); /* 19 arcsec apart */
    set_star(&star[4], 12 + 21 / 3600.0, 4);
    ck_assert(index_make_quad(&quad, &cell, &index, 3, ordinal));
    set_star(&star[1], 39.5, 0); /* 2 tan(14.75 deg) is less than 30 degrees in radians... */
    ck_assert(!index_make_quad(&quad, &cell, &index, 0, ordinal));
    set_star(&star[1], 38.5, 0);
    ck_assert(index_make_quad(&quad, &cell, &index, 0, ordinal));
    quad.anchor = 5;
    ck_assert(!index_quad_stars(stars, &index, &quad));
    quad = (struct index_quad){.anchor = 0, .members = 0xf321};
    ck_assert(!index_quad_stars(stars, &index, &quad));
    quad = (struct index_quad){.anchor = 2, .members = 0x3210};
    ck_assert(!index_quad_stars(stars, &index, &quad));
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
    int code = build_index(&sound, &sound_size, &report, &catalogue, &options, &err);
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
    return b + 256 + 32 * section;
}

static unsigned char *section_of(unsigned char *b, int section)
{
    return b + get(row_of(b, section) + 8, 8);
}

/* Makes the checksum of the header right again; index_header_checksum is tested on its own. */
static void seal_header(unsigned char *b)
{
    put(b + 28, index_header_checksum(b), 4);
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

enum { STAR, IDNO, CELL, NEAR, CODE, QUAD };

/* The checksum of the header is CRC-32 over header and table, its own field as zeros. */
START_TEST(test_header_checksum)
{
    unsigned char *b = copy_of(sound, 256 + 6 * 32);
    uint32_t stated = (uint32_t)get(b + 28, 4);
    put(b + 28, 0, 4);
    ck_assert_uint_eq(crc32(0, b, 256 + 6 * 32), stated);
    ck_assert_uint_eq(index_header_checksum(sound), stated);
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
    {12, 4, 2, "version 2, expected 1"},
    {12, 4, 0, "version 0, expected 1"},
    {24, 4, 5, "header of the index is damaged"},
    {32, 4, 0, "claims 0 stars"},
    {32, 4, 0x80000000, "claims 2147483648 stars"},
    {36, 4, 0x80000000, "2147483648 quads"},
    {40, 4, 0, "0 levels"},
    {40, 4, 12, "12 levels"},
    {44, 4, 2, "2 neighbours"},
    {44, 4, 16, "16 neighbours"},
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
        memcpy(b, sound, 448);
    }
    free(b);
}
END_TEST

/* One bit changed anywhere in header and table, and not sealed, is noticed. */
START_TEST(test_header_bits)
{
    unsigned char *b = copy_of(sound, sound_size);
    for (int bit = 0; bit < 8 * (256 + 6 * 32); bit++) {
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
    {QUAD, 8, 8, 64, "section QUAD of the index does not fit"},
    {QUAD, 8, 8, INT64_C(1) << 40, "section QUAD of the index does not fit"},
    {QUAD, 8, 8, -64 - (INT64_C(1) << 62), "section QUAD of the index does not fit"},
    {NEAR, 16, 8, 4, "section NEAR of the index does not fit"},
    {NEAR, 16, 8, -4, "section NEAR of the index does not fit"},
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
        memcpy(b, sound, 448);
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
        put(row_of(b, STAR) + 8, offsets[i], 8);
        seal_header(b);
        assert_refused(index_decode(&index, b, sound_size, &err), &err, "section STAR");
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
    put(b + 40, 11, 4);
    put(b + 44, 15, 4);
    const uint64_t stars = 0x7fffffff;
    const uint64_t records[6] = {
        stars, stars, 4 * ((1u << 22) - 1) + 1, 15 * stars, 26 * 46 * 26 * 46 + 1, stars};
    const uint64_t size[6] = {16, 4, 16, 4, 4, 12};
    for (int i = 0; i < 6; i++) {
        put(row_of(b, i) + 16, records[i] * size[i], 8);
        put(row_of(b, i) + 24, records[i], 8);
    }
    seal_header(b);
    assert_refused(index_decode(&index, b, sound_size, &err), &err, "section STAR");
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
                       size < 448 ? "too few to hold even its header" : "the index says it has");
        if (size >= 448) {
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

static int long_vector(unsigned char *b, const struct index *index)
{
    (void)index;
    unsigned char *star = section_of(b, STAR) + 16 * 7;
    for (int i = 0; i < 3; i++) {
        int64_t v = (int32_t)get(star + 4 * i, 4);
        put(star + 4 * i, (uint64_t)(v - v / 500000), 4);
    }
    return STAR;
}

static void swap_stars(unsigned char *b, uint32_t first, uint32_t second)
{
    unsigned char *star = section_of(b, STAR), keep[16];
    memcpy(keep, star + 16 * first, 16);
    memcpy(star + 16 * first, star + 16 * second, 16);
    memcpy(star + 16 * second, keep, 16);
}

/* A star of level 2 goes to the other side of the sky. */
static int wrong_cell(unsigned char *b, const struct index *index)
{
    unsigned char *star = section_of(b, STAR) + 16 * index->cell[index_first_cell(2)].first_star;
    for (int i = 0; i < 3; i++) {
        put(star + 4 * i, (uint64_t) - (int64_t)(int32_t)get(star + 4 * i, 4), 4);
    }
    return STAR;
}

/* Two stars of one cell change places. */
static int wrong_order(unsigned char *b, const struct index *index)
{
    uint32_t cell = index_first_cell(2);
    while (index->cell[cell + 1].first_star < index->cell[cell].first_star + 2 ||
           index->star[index->cell[cell].first_star].mag ==
               index->star[index->cell[cell].first_star + 1].mag) {
        cell++;
    }
    swap_stars(b, index->cell[cell].first_star, index->cell[cell].first_star + 1);
    return STAR;
}

static int cells_out_of_order(unsigned char *b, const struct index *index)
{
    put(section_of(b, CELL) + 16 * 20 + 12, index->cell[19].first_star - 1, 4);
    return CELL;
}

static int cell_beyond_the_stars(unsigned char *b, const struct index *index)
{
    put(section_of(b, CELL) + 16 * 20 + 12, index->stars + 1, 4);
    return CELL;
}

static int cells_end_early(unsigned char *b, const struct index *index)
{
    put(section_of(b, CELL) + 16 * index_first_cell(index->levels) + 12, index->stars - 1, 4);
    return CELL;
}

static int cells_start_late(unsigned char *b, const struct index *index)
{
    (void)index;
    put(section_of(b, CELL) + 12, 1, 4);
    return CELL;
}

static int fainter_neighbour(unsigned char *b, const struct index *index)
{
    uint32_t faint = 0;
    while (index->star[faint].mag <= index->star[100].mag) {
        faint++;
    }
    put(section_of(b, NEAR) + 4 * 100 * (size_t)index->neighbours, faint, 4);
    return NEAR;
}

static int own_neighbour(unsigned char *b, const struct index *index)
{
    put(section_of(b, NEAR) + 4 * 100 * (size_t)index->neighbours, 100, 4);
    return NEAR;
}

static int unknown_neighbour(unsigned char *b, const struct index *index)
{
    put(section_of(b, NEAR) + 4 * 100 * (size_t)index->neighbours, index->stars, 4);
    return NEAR;
}

static int code_cells_out_of_order(unsigned char *b, const struct index *index)
{
    put(section_of(b, CODE) + 4 * 700000, index->bucket[699999] - 1, 4);
    return CODE;
}

static int code_cells_end_early(unsigned char *b, const struct index *index)
{
    put(section_of(b, CODE) + 4 * (size_t)INDEX_SHAPE_CELLS, index->quads - 1, 4);
    return CODE;
}

static int quad_in_another_cell(unsigned char *b, const struct index *index)
{
    uint32_t cell = 1;
    while (index->bucket[cell] == index->bucket[cell + 1]) {
        cell++;
    }
    put(section_of(b, CODE) + 4 * (size_t)cell, index->bucket[cell] + 1, 4);
    return CODE;
}

static int altered_code(unsigned char *b, const struct index *index)
{
    (void)index;
    section_of(b, QUAD)[12 * 500 + 8] ^= 1;
    return QUAD;
}

static int altered_members(unsigned char *b, const struct index *index)
{
    unsigned char *members = section_of(b, QUAD) + 12 * 500 + 4;
    (void)index;
    put(members, (get(members, 2) >> 4 | get(members, 2) << 12) & 0xffff, 2);
    return QUAD;
}

static int altered_diameter(unsigned char *b, const struct index *index)
{
    (void)index;
    section_of(b, QUAD)[12 * 500 + 6] ^= 1;
    return QUAD;
}

static int unknown_anchor(unsigned char *b, const struct index *index)
{
    put(section_of(b, QUAD) + 12 * 500, index->stars, 4);
    return QUAD;
}

static const struct {
    damage *make;
    const char *expected;
} content_faults[] = {
    {stale_checksum, "section IDNO of the index is damaged: checksum"},
    {long_vector, "star 7 of the index: its vector has length"},
    {wrong_cell, "does not belong at its place in cell"},
    {wrong_order, "does not belong at its place in cell"},
    {cells_out_of_order, "cell 19 of the index: its stars"},
    {cell_beyond_the_stars, "the index: its stars"},
    {cells_end_early, "cells of the index do not hold all its stars"},
    {cells_start_late, "cells of the index do not hold all its stars"},
    {fainter_neighbour, "of star 100 of the index is not a brighter star"},
    {own_neighbour, "neighbour 100 of star 100 of the index is not a brighter star"},
    {unknown_neighbour, "of star 100 of the index is not a brighter star"},
    {code_cells_out_of_order, "shape cell 699999 of the index: its quads"},
    {code_cells_end_early, "shape cells of the index do not hold all its quads"},
    {quad_in_another_cell, "is not what its stars make"},
    {altered_code, "quad 500 of the index is not what its stars make"},
    {altered_members, "quad 500 of the index is not what its stars make"},
    {altered_diameter, "quad 500 of the index is not what its stars make"},
    {unknown_anchor, "quad 500 of the index is not what its stars make"},
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
    struct wound wound = {448, size};
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
    int code = fit_solution(&solution, verdict, mirrored, task->list, task->index, NULL, NULL);
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
    for (int round = 0; round < 2000; round++) {
        struct index index;
        struct wound wound = flip(b, size, &random);
        unsigned char header[448];
        memcpy(header, b, sizeof header);
        if (round % 4 == 0) {
            size_t place = 32 + (size_t)(random_uniform(&random) * 416);
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
    ck_assert_mem_eq(b + 448, bytes + 448, size - 448);
    /* Most headers stay whole, and most damage spares enough for this one list; some does not. */
    ck_assert_int_gt(decoded, 1600);
    ck_assert_int_gt(solved, 800);
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
    tcase_add_test(reading, test_code_cells);
    tcase_add_test(reading, test_diameters_at_the_limits);
    tcase_add_test(reading, test_quads_are_their_stars);
    tcase_add_test(reading, test_quads_that_are_not_made);
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
