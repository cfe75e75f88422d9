#include "build.h"

#include "base/random.h"
#include "base/units.h"
#include "index_fixture.h"
#include "match/index_layout.h"
#include "match/quad.h"
#include "near.h"
#include "order_stars.h"
#include "quad_heap.h"
#include "sky/vector.h"

#include <chealpix.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *build_suite(void);

struct built {
    unsigned char *bytes;
    size_t size;
    struct index index;
    struct build_report report;
};

static void build(struct built *built, struct catalogue *catalogue,
                  const struct build_options *options)
{
    struct error err = {0};
    int code = fixture_build(&built->bytes, &built->size, &built->report, catalogue, options, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    code = index_decode(&built->index, built->bytes, built->size, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

static void built_free(struct built *built)
{
    free(built->bytes);
    *built = (struct built){0};
}

static void assert_sound(const struct built *built)
{
    struct error err = {0};
    ck_assert_msg(index_check(built->bytes, built->size, &err) == 0, "%s", err.text);
}

static void shuffle_stars(struct catalogue *catalogue, uint64_t seed)
{
    struct random random = {seed};
    for (long i = catalogue->count - 1; i > 0; i--) {
        long k = (long)(random_uniform(&random) * (double)(i + 1));
        struct catalogue_star keep = catalogue->star[i];
        catalogue->star[i] = catalogue->star[k];
        catalogue->star[k] = keep;
    }
}

/* The same bytes on one thread, on several, and with the rows of the catalogue in another order. */
START_TEST(test_same_bytes)
{
    struct built first = {0}, other = {0};
    for (int round = 0; round < 3; round++) {
        struct catalogue catalogue = {0};
        const struct build_options options = {
            .name = "bright stars", .source = "test", .faintest = 6, .threads = round == 1 ? 2 : 1};
        fixture_catalogue(&catalogue);
        if (round == 2) {
            shuffle_stars(&catalogue, 1);
        }
        build(round ? &other : &first, &catalogue, &options);
        catalogue_free(&catalogue);
        if (round) {
            ck_assert_uint_eq(other.size, first.size);
            ck_assert(memcmp(other.bytes, first.bytes, first.size) == 0);
            built_free(&other);
        }
    }
    assert_sound(&first);
    built_free(&first);
}
END_TEST

/* Stars in clumps of equal brightness, some in the same place, one cloud on a pole: what order they
 * come in must not show. */
static void add_clumps(struct catalogue *catalogue, int count)
{
    struct random random = {5};
    for (int i = 0; i < count; i++) {
        double ra = i % 3 ? random_between(&random, 0, 360) : 77, dec = i % 3 ? 89.5 : -20;
        double v[3], off[3];
        vector_from_radec(v, ra, dec);
        random_direction(&random, off);
        for (int k = 0; k < 3; k++) {
            v[k] += 0.01 * off[k] * (i % 7 > 0);
        }
        vector_normalise(v);
        vector_to_radec(&ra, &dec, v);
        ck_assert(catalogue_add(catalogue, ra, dec, 5 + i % 4, i % 8 ? 0.1 * (i % 10) : (double)NAN,
                                i % 5 ? 0 : (uint32_t)i));
    }
}

/* Numbers beyond 32 bits widen their section; the rest of the index stays as it is. */
START_TEST(test_wide_numbers)
{
    const uint64_t lift = UINT64_C(5853498713190525696);
    struct built narrow = {0}, wide = {0};
    for (int round = 0; round < 2; round++) {
        struct catalogue catalogue = {0};
        fixture_catalogue(&catalogue);
        for (long i = 0; i < catalogue.count; i++) {
            catalogue.star[i].id += round ? lift : 0;
        }
        build(round ? &wide : &narrow, &catalogue, &(struct build_options){.faintest = 5});
        catalogue_free(&catalogue);
    }
    assert_sound(&wide);
    ck_assert_int_eq(narrow.index.id_width, 17); /* numbers up to 120,404 */
    ck_assert_int_eq(wide.index.id_width, 63);
    ck_assert_uint_eq(wide.index.stars, narrow.index.stars);
    for (uint32_t i = 0; i < wide.index.stars; i++) {
        ck_assert_uint_eq(index_number(&wide.index, i), index_number(&narrow.index, i) + lift);
    }
    built_free(&narrow);
    built_free(&wide);
}
END_TEST

START_TEST(test_same_bytes_with_ties)
{
    struct built first = {0}, other = {0};
    const struct build_options options = {.name = "ties", .faintest = NAN, .density = 1e6};
    for (int round = 0; round < 6; round++) {
        struct catalogue catalogue = {0};
        add_clumps(&catalogue, 600);
        shuffle_stars(&catalogue, (uint64_t)round);
        build(round ? &other : &first, &catalogue, &options);
        catalogue_free(&catalogue);
        if (round) {
            ck_assert_uint_eq(other.size, first.size);
            ck_assert(memcmp(other.bytes, first.bytes, first.size) == 0);
            built_free(&other);
        }
    }
    assert_sound(&first);
    built_free(&first);
}
END_TEST

static uint64_t get(const unsigned char *p, int bytes)
{
    uint64_t value = 0;
    for (int i = bytes - 1; i >= 0; i--) {
        value = value << 8 | p[i];
    }
    return value;
}

/* The layout, read by the page of the format alone. */
START_TEST(test_layout)
{
    static const struct {
        const char *name;
        uint64_t size;
    } expected[6] = {{"IDNO", 0}, {"STAR", 12}, {"CELL", 12},
                     {"NEAR", 0}, {"QUAD", 0},  {"CODE", 0}};
    size_t size;
    const unsigned char *b = fixture_bytes(&size);
    ck_assert_mem_eq(b, "ALIDX\r\n\x1a", 8);
    ck_assert_mem_eq(b + 8, "\x04\x03\x02\x01", 4);
    ck_assert_uint_eq(get(b + 12, 4), 3);
    ck_assert_uint_eq(get(b + 16, 8), size);
    ck_assert_uint_eq(get(b + 24, 4), 6);
    uint64_t stars = get(b + 32, 4), quads = get(b + 36, 4), levels = get(b + 40, 4);
    uint64_t neighbours = get(b + 44, 4), end = 384 + 6 * 32;
    const uint64_t cells = get(b + 264 + 4 * levels, 4) + 1, codes = get(b + 384 + 5 * 32 + 24, 8);
    const uint64_t records[6] = {stars, stars, cells, stars * neighbours, quads, codes};
    /* Bits of a record, where they are no bytes: the numbers go to 120,404, the stars to 15,000. */
    const uint64_t bits[6] = {17, 0, 0, 14, 0, 0};
    ck_assert_uint_eq(get(b + 60, 4), 17);
    ck_assert_uint_eq(get(b + 256, 4), 25);
    ck_assert_uint_eq(get(b + 260, 4), 4);
    ck_assert_str_eq((const char *)b + 64, "bright stars");
    ck_assert_str_eq((const char *)b + 128, "test");
    for (int i = 0; i < 6; i++) {
        const unsigned char *row = b + 384 + 32 * i;
        uint64_t offset = get(row + 8, 8);
        ck_assert_mem_eq(row, expected[i].name, 4);
        ck_assert_uint_eq(get(row + 24, 8), records[i]);
        if (expected[i].size) {
            ck_assert_uint_eq(get(row + 16, 8), records[i] * expected[i].size);
        } else if (bits[i]) {
            ck_assert_uint_eq(get(row + 16, 8), (records[i] * bits[i] + 7) / 8 + 8);
        }
        ck_assert_uint_eq(offset % 64, 0);
        ck_assert(offset >= end && offset < end + 64);
        for (uint64_t gap = end; gap < offset; gap++) {
            ck_assert_uint_eq(b[gap], 0);
        }
        end = offset + get(row + 16, 8);
    }
    ck_assert(size >= end && size < end + 64);
    double epoch;
    memcpy(&epoch, b + 48, sizeof epoch);
    assert_near(epoch, 2000, 0, "year");
}
END_TEST

/* Each star of the catalogue is in the index once, as it was, with its number. */
static int compare_id(const void *left, const void *right)
{
    const struct catalogue_star *a = left, *b = right;
    return (a->id > b->id) - (a->id < b->id);
}

START_TEST(test_stars_are_kept)
{
    const struct index *index = fixture_index();
    struct catalogue catalogue = {0};
    fixture_catalogue(&catalogue);
    ck_assert_int_eq(catalogue.count, index->stars);
    qsort(catalogue.star, (size_t)catalogue.count, sizeof *catalogue.star, compare_id);
    int wrong = 0;
    static bool seen[20000];
    for (uint32_t i = 0; i < index->stars; i++) {
        const struct catalogue_star key = {.id = index_number(index, i)};
        const struct catalogue_star *found =
            bsearch(&key, catalogue.star, (size_t)catalogue.count, sizeof key, compare_id);
        ck_assert_ptr_nonnull(found);
        wrong += memcmp(found->place, index->star[i].place, sizeof found->place) != 0 ||
                 found->mag != index->star[i].mag || found->colour != index->star[i].colour ||
                 seen[found - catalogue.star];
        seen[found - catalogue.star] = true;
    }
    ck_assert_int_eq(wrong, 0);
    assert_near(index->facts.brightest, -1.44, 1e-9, "mag"); /* Sirius */
    ck_assert(index->facts.faintest <= 7 && index->facts.faintest > 6.98);
    catalogue_free(&catalogue);
}
END_TEST

static double star_dot(const struct index *index, uint32_t a, uint32_t b)
{
    double v[3], w[3];
    index_star_vector(v, &index->star[a]);
    index_star_vector(w, &index->star[b]);
    return vector_dot(v, w);
}

static bool is_brighter(const struct index *index, uint32_t a, uint32_t b)
{
    return index->star[a].mag < index->star[b].mag ||
           (index->star[a].mag == index->star[b].mag && a < b);
}

/* The neighbours of some stars against a look at all stars: which are nearest, of those brighter
 * and within 20 degrees. The brightest of all are among them, which have few or none. */
START_TEST(test_neighbours)
{
    const struct index *index = fixture_index();
    double edge = cos(20 * RAD_PER_DEG);
    int wanted = index->neighbours, wrong = 0;
    for (uint32_t star = 0; star < index->stars; star += star < 1100 ? 1 : 29) {
        uint32_t near[INDEX_MAX_NEIGHBOURS];
        for (int i = 0; i < wanted; i++) {
            near[i] = index_neighbour(index, star, i + 1);
        }
        double last = 2;
        int count = 0;
        while (count < wanted && near[count] != INDEX_NO_STAR) {
            double dot = star_dot(index, star, near[count]);
            wrong += !is_brighter(index, near[count], star) || dot > last || dot < edge - 1e-12;
            last = dot;
            count++;
        }
        for (int i = count; i < wanted; i++) {
            wrong += near[i] != INDEX_NO_STAR;
        }
        int nearer = 0;
        double least = count == wanted ? last : edge;
        for (uint32_t other = 0; other < index->stars; other++) {
            nearer += is_brighter(index, other, star) && star_dot(index, star, other) > least;
        }
        wrong += nearer != (count == wanted ? wanted - 1 : count);
    }
    ck_assert_int_eq(wrong, 0);
}
END_TEST

/* The distance of the two farthest of four stars; 0 if two are too close or too far apart. */
static double width_of(const struct index *index, const uint32_t star[4])
{
    double v[4][3], widest = 0;
    for (int i = 0; i < 4; i++) {
        index_star_vector(v[i], &index->star[star[i]]);
        for (int k = 0; k < i; k++) {
            double apart = vector_angle_deg(v[i], v[k]);
            if (apart < 20 / 3600.0 || apart >= 30) {
                return 0;
            }
            widest = fmax(widest, apart);
        }
    }
    return widest;
}

static int compare_double(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

/* How wide the quads of one anchor may be, narrowest first; returns how many there are. */
static int list_widths(double *width, const struct index *index, uint32_t anchor)
{
    int count = 0;
    for (uint32_t n = 0; n < index->threes; n++) {
        uint32_t star[4] = {anchor};
        bool all = true;
        for (int i = 0; i < 3; i++) {
            star[i + 1] = index_neighbour(index, anchor, index->three[n][i]);
            all = all && star[i + 1] != INDEX_NO_STAR;
        }
        double wide = all ? width_of(index, star) : 0;
        if (wide > 0) {
            width[count++] = wide;
        }
    }
    qsort(width, (size_t)count, sizeof *width, compare_double);
    return count;
}

/* Of each anchor the narrowest quads and no others; as many of them as were asked for. */
START_TEST(test_quads_are_the_narrowest)
{
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.faintest = 5, .neighbours = 8, .quads = 20};
    static double widest[2000], width[INDEX_MAX_THREES];
    static int count[2000];
    fixture_catalogue(&catalogue);
    build(&built, &catalogue, &options);
    const struct index *index = &built.index;
    for (uint32_t cell = 0; cell < index->grid.cells; cell++) {
        struct index_block block;
        for (uint32_t i = 0; index_block_open(&block, index, cell) && i < block.count; i++) {
            struct index_quad quad;
            uint32_t anchor;
            ck_assert(index_numbered_quad(&quad, &anchor, index, index_block_number(&block, i)));
            count[anchor]++;
            widest[anchor] = fmax(widest[anchor], width_of(index, quad.star));
        }
    }
    for (uint32_t anchor = 0; anchor < index->stars; anchor++) {
        int all = list_widths(width, index, anchor), kept = all < 20 ? all : 20;
        ck_assert_int_eq(count[anchor], kept);
        if (kept > 0) {
            assert_near(widest[anchor], width[kept - 1], 1e-9, "degrees");
        }
    }
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

/* So many that they go through a file: what is written does not depend on it. */
START_TEST(test_heap_in_a_file)
{
    enum { CELLS = 1000, QUADS = 300000 };
    struct quad_heap heap[2] = {{0}};
    struct error err = {0};
    struct random random = {8};
    heap_quad *quad[2];
    uint32_t *first[2], quads = 0;
    ck_assert_int_eq(quad_heap_make(&heap[0], CELLS, 30, QUADS, NULL, &err), 0);
    ck_assert_int_eq(quad_heap_make(&heap[1], CELLS, 30, 100000000, NULL, &err), 0);
    ck_assert_ptr_null(heap[0].file);
    ck_assert_ptr_nonnull(heap[1].file);
    for (uint64_t i = 0; i < QUADS; i++) {
        heap_quad one = (uint64_t)(random_uniform(&random) * CELLS) << 30 | i;
        ck_assert_int_eq(quad_heap_add(&heap[0], &one, 1, &err), 0);
        ck_assert_int_eq(quad_heap_add(&heap[1], &one, 1, &err), 0);
    }
    ck_assert_uint_eq(heap[0].piles, 1);
    ck_assert_int_eq(quad_heap_take(&quad[0], &first[0], &heap[0], 0, &err), 0);
    for (uint32_t pile = 0; pile < heap[1].piles; pile++) {
        uint32_t cell = quad_heap_cell(&heap[1], pile), end = quad_heap_cell(&heap[1], pile + 1);
        ck_assert_int_eq(quad_heap_take(&quad[1], &first[1], &heap[1], pile, &err), 0);
        for (; cell < end; cell++, quads += first[1][1] - first[1][0], first[1]++) {
            const uint32_t here = first[0][cell + 1] - first[0][cell];
            ck_assert_uint_eq(first[1][1] - first[1][0], here);
            ck_assert_mem_eq(quad[0] + first[0][cell], quad[1] + first[1][0],
                             here * sizeof *quad[0]);
        }
        free(quad[1]);
        free(first[1] - (end - quad_heap_cell(&heap[1], pile)));
    }
    ck_assert_uint_eq(quads, QUADS);
    for (uint32_t i = 1; i < QUADS; i++) {
        ck_assert(quad[0][i - 1] < quad[0][i]);
    }
    free(quad[0]);
    free(first[0]);
    quad_heap_free(&heap[0]);
    quad_heap_free(&heap[1]);
}
END_TEST

START_TEST(test_report)
{
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.faintest = 5};
    fixture_catalogue(&catalogue);
    build(&built, &catalogue, &options);
    ck_assert_int_eq(built.report.stars, built.index.stars);
    ck_assert_int_eq(built.report.quads, built.index.quads);
    double narrowest = 99, widest = 0;
    for (uint32_t cell = 0; cell < built.index.grid.cells; cell++) {
        struct index_block block;
        for (uint32_t i = 0; index_block_open(&block, &built.index, cell) && i < block.count; i++) {
            struct index_quad quad;
            uint32_t anchor;
            uint64_t number = index_block_number(&block, i);
            ck_assert(index_numbered_quad(&quad, &anchor, &built.index, number));
            narrowest = fmin(narrowest, width_of(&built.index, quad.star));
            widest = fmax(widest, width_of(&built.index, quad.star));
        }
    }
    /* The report looks at a sample, at chords. */
    ck_assert(built.report.narrowest_deg > 0.99 * narrowest && built.report.widest_deg <= widest);
    ck_assert(built.report.narrowest_deg < built.report.median_deg &&
              built.report.median_deg < built.report.widest_deg && widest < 30);
    ck_assert(built.report.median_deg > 2 && built.report.median_deg < 15);
    assert_near(built.report.brightest, -1.44, 1e-9, "mag"); /* Sirius */
    ck_assert_uint_eq(built.report.bytes, built.size);
    ck_assert_ptr_null(catalogue.star);
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

/* Any number of neighbours from 3 to 15 makes a sound index that keeps its promise. */
START_TEST(test_numbers_of_neighbours)
{
    long before = 0;
    for (int neighbours = 3; neighbours <= 15; neighbours += 4) {
        struct catalogue catalogue = {0};
        struct built built = {0};
        const struct build_options options = {
            .faintest = 4, .neighbours = neighbours, .quads = 455};
        fixture_catalogue(&catalogue);
        build(&built, &catalogue, &options);
        assert_sound(&built);
        ck_assert_int_eq(built.index.neighbours, neighbours);
        ck_assert_int_gt(built.report.quads, before);
        before = built.report.quads;
        built_free(&built);
        catalogue_free(&catalogue);
    }
}
END_TEST

/* Density keeps the brightest of each place: in a 0.84 square degree cell no star is left out that
 * is a tenth of a magnitude and more brighter than one kept. */
START_TEST(test_density)
{
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.faintest = NAN, .density = 60};
    struct random random = {9};
    for (int i = 0; i < 30000; i++) {
        double dec = random_between(&random, 0, 5), ra = random_between(&random, 0, 30);
        ra = i % 2 ? ra : 5 + ra / 60;
        ck_assert(
            catalogue_add(&catalogue, ra, dec, random_between(&random, 2, 12), NAN, (uint32_t)i));
    }
    struct catalogue all = {0};
    ck_assert(catalogue_append(&all, catalogue.star, catalogue.count));
    build(&built, &catalogue, &options);
    assert_sound(&built);
    static int kept[12 * 64 * 64], faintest[12 * 64 * 64], brighter[12 * 64 * 64];
    for (uint32_t i = 0; i < built.index.stars; i++) {
        long cell;
        double v[3];
        index_star_vector(v, &built.index.star[i]);
        vec2pix_nest(64, v, &cell);
        kept[cell]++;
        int mag = built.index.star[i].mag;
        faintest[cell] = mag > faintest[cell] ? mag : faintest[cell];
    }
    for (long i = 0; i < all.count; i++) {
        long cell;
        double v[3];
        order_star_vector(v, &all.star[i]);
        vec2pix_nest(64, v, &cell);
        brighter[cell] += all.star[i].mag < faintest[cell] - 100;
    }
    for (long cell = 0; cell < 12 * 64 * 64; cell++) {
        ck_assert_int_le(kept[cell], (int)(60 * 41252.96 / (12 * 64 * 64)) + 1);
        ck_assert_int_le(brighter[cell], kept[cell]);
    }
    built_free(&built);
    catalogue_free(&catalogue);
    catalogue_free(&all);
}
END_TEST

static void add_four(struct catalogue *catalogue, int count)
{
    for (int i = 0; i < count; i++) {
        ck_assert(catalogue_add(catalogue, 359.9 + 0.05 * i, -89.9 + 0.01 * i * i, 3, NAN, 7));
    }
}

START_TEST(test_few_stars)
{
    for (int count = 0; count < 4; count++) {
        struct catalogue catalogue = {0};
        struct build_report report;
        struct error err = {0};
        const struct build_options options = {.faintest = NAN};
        unsigned char *bytes = NULL;
        size_t size;
        add_four(&catalogue, count);
        ck_assert_int_eq(fixture_build(&bytes, &size, &report, &catalogue, &options, &err),
                         ERROR_INPUT);
        ck_assert_msg(strstr(err.text, "too few") != NULL, "%s", err.text);
        ck_assert_ptr_null(bytes);
        catalogue_free(&catalogue);
    }
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.faintest = NAN, .neighbours = 15};
    add_four(&catalogue, 4);
    build(&built, &catalogue, &options);
    assert_sound(&built);
    ck_assert_uint_eq(built.index.quads, 1);
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

/* Too faint ones do not count. */
START_TEST(test_faintest)
{
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.faintest = 4.5};
    fixture_catalogue(&catalogue);
    long bright = 0;
    for (long i = 0; i < catalogue.count; i++) {
        bright += catalogue.star[i].mag <= 4500;
    }
    build(&built, &catalogue, &options);
    ck_assert_int_eq(built.index.stars, bright);
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

/* Names longer than their room are cut and still end. */
START_TEST(test_long_names)
{
    char name[200], source[300];
    memset(name, 'n', sizeof name);
    memset(source, 's', sizeof source);
    name[sizeof name - 1] = source[sizeof source - 1] = '\0';
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {.name = name, .source = source, .faintest = NAN};
    add_four(&catalogue, 6);
    build(&built, &catalogue, &options);
    ck_assert_uint_eq(strlen(built.index.facts.name), 63);
    ck_assert_uint_eq(strlen(built.index.facts.source), 127);
    ck_assert_uint_eq(built.bytes[64 + 63], 0);
    ck_assert_uint_eq(built.bytes[128 + 127], 0);
    assert_sound(&built);
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

static void note_progress(double share, void *context)
{
    double *last = context;
    ck_assert(share >= *last && share <= 1);
    *last = share;
}

START_TEST(test_progress)
{
    double last = 0;
    struct catalogue catalogue = {0};
    struct built built = {0};
    const struct build_options options = {
        .faintest = 3, .progress = note_progress, .context = &last};
    fixture_catalogue(&catalogue);
    build(&built, &catalogue, &options);
    assert_near(last, 1, 0, "share");
    built_free(&built);
    catalogue_free(&catalogue);
}
END_TEST

Suite *build_suite(void)
{
    Suite *suite = suite_create("build");
    TCase *tests = tcase_create("building an index");
    tcase_add_unchecked_fixture(tests, fixture_make_index, NULL);
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, test_same_bytes);
    tcase_add_test(tests, test_wide_numbers);
    tcase_add_test(tests, test_same_bytes_with_ties);
    tcase_add_test(tests, test_layout);
    tcase_add_test(tests, test_stars_are_kept);
    tcase_add_test(tests, test_neighbours);
    tcase_add_test(tests, test_quads_are_the_narrowest);
    tcase_add_test(tests, test_heap_in_a_file);
    tcase_add_test(tests, test_report);
    tcase_add_test(tests, test_numbers_of_neighbours);
    tcase_add_test(tests, test_density);
    tcase_add_test(tests, test_few_stars);
    tcase_add_test(tests, test_faintest);
    tcase_add_test(tests, test_long_names);
    tcase_add_test(tests, test_progress);
    suite_add_tcase(suite, tests);
    return suite;
}
