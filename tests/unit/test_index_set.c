/* Several indexes used as one: order, folders, renewal, and narrow fields with a deep index of a
 * region of the demo's sky, whose faint stars are made up (demo/starfield.h). */
#include "match/index_set.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/model_stars.h"
#include "index_fixture.h"
#include "match/solve.h"
#include "near.h"
#include "scratch.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>
#include <sys/stat.h>

Suite *index_set_suite(void);

static const double region_ra = 83, region_dec = -3, region_deg = 3;

/* Made once. */
static unsigned char *deep;
static size_t deep_size;

static void make_deep(void)
{
    struct sky_view view = {0};
    struct catalogue catalogue = {0};
    struct build_report report;
    struct error err = {0};
    const struct build_options options = {.name = "deep", .faintest = NAN, .density = 1e9};
    double v[3], ra, dec;
    vector_from_radec(v, region_ra, region_dec);
    ck_assert_int_eq(starfield_look(&view, fixture_sky(), v, region_deg + 1.5, 15, &err), 0);
    for (int i = 0; i < view.count; i++) {
        vector_to_radec(&ra, &dec, view.star[i].v);
        ck_assert(catalogue_add(&catalogue, ra, dec, view.star[i].mag, view.star[i].b_v,
                                view.star[i].hip));
    }
    ck_assert_int_eq(fixture_build(&deep, &deep_size, &report, &catalogue, &options, &err), 0);
    catalogue_free(&catalogue);
    sky_view_free(&view);
}

static void make_all(void)
{
    fixture_open_bundled();
    make_deep();
    scratch_make();
}

static void free_all(void)
{
    scratch_remove();
    free(deep);
    deep = NULL;
    fixture_close_bundled();
}

/* Stars per square degree of what the deep index covers, by its stars and its circle; the bundled
 * index covers the sky. */
START_TEST(test_density)
{
    struct index index;
    ck_assert_int_eq(index_decode(&index, deep, deep_size, NULL), 0);
    double area = 2 * PI * (1 - cos((region_deg + 1.5) * RAD_PER_DEG)) * DEG_PER_RAD * DEG_PER_RAD;
    double ratio = index_set_density(&index) / (index.stars / area);
    /* Cells at the rim count as whole. */
    ck_assert_msg(ratio > 0.6 && ratio <= 1, "%g", ratio);
    assert_near(index_set_density(fixture_bundled()), fixture_bundled()->stars / 41252.96, 0.02,
                "stars per square degree");
}
END_TEST

/* A folder holds both; other files there do not count. */
static void make_folder(char folder[512])
{
    size_t size;
    const unsigned char *bytes = fixture_bytes(&size);
    snprintf(folder, 512, "%s", scratch_path("both"));
    mkdir(folder, 0755);
    scratch_write("both/deep.alidx", deep, deep_size);
    scratch_write("both/wide.alidx", bytes, size);
    scratch_write("both/notes.txt", "no index", 8);
}

START_TEST(test_folder_and_order)
{
    struct index_set set = {0};
    struct error err = {0};
    const struct index *order[INDEX_SET_MOST];
    char folder[512];
    make_folder(folder);
    ck_assert_msg(index_set_add(&set, folder, &err) == 0, "%s", err.text);
    ck_assert_int_eq(set.parts, 2);
    ck_assert_ptr_nonnull(strstr(set.part[0].name, "both/deep.alidx"));
    const struct index *deep_one = &set.part[0].file.index, *wide = &set.part[1].file.index;
    index_set_order(order, &set, 0);
    ck_assert(order[0] == wide && order[1] == deep_one);
    index_set_order(order, &set, 600);
    ck_assert(order[0] == wide && order[1] == deep_one);
    index_set_order(order, &set, 1);
    ck_assert(order[0] == deep_one && order[1] == wide);
    /* Too small for either: the denser one first. */
    index_set_order(order, &set, 0.001);
    ck_assert(order[0] == deep_one && order[1] == wide);
    /* 25 stars are enough: for the wide one that is where its density says. */
    double enough = 25 / index_set_density(wide);
    index_set_order(order, &set, 1.1 * enough);
    ck_assert(order[0] == wide);
    index_set_order(order, &set, 0.9 * enough);
    ck_assert(order[0] == deep_one);
    ck_assert_ptr_null(index_set_changed(&set));
    scratch_write("both/deep.alidx", deep, deep_size);
    ck_assert_ptr_nonnull(strstr(index_set_changed(&set), "deep.alidx"));
    ck_assert_msg(index_set_renew(&set, &err) == 0, "%s", err.text);
    ck_assert_ptr_null(index_set_changed(&set));
    ck_assert_int_eq(set.parts, 2);
    /* What fails leaves the set as it is. */
    scratch_write("both/deep.alidx", "no index", 8);
    ck_assert_int_eq(index_set_renew(&set, &err), ERROR_INPUT);
    ck_assert_int_eq(set.parts, 2);
    ck_assert_int_eq(index_set_add(&set, folder, &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, "both/deep.alidx: not an index") != NULL, "%s", err.text);
    ck_assert_int_eq(index_set_add(&set, scratch_path("none.alidx"), &err), ERROR_INPUT);
    mkdir(scratch_path("empty"), 0755);
    ck_assert_int_eq(index_set_add(&set, scratch_path("empty"), &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, "empty: no index there") != NULL, "%s", err.text);
    ck_assert_int_eq(set.parts, 2);
    index_set_close(&set);
    index_set_close(&set);
}
END_TEST

/* One list of a field in the region; true if it is solved, rightly. */
static bool solve_field(const struct index_set *set, double width_deg, struct random *random)
{
    struct model_stars model = {0};
    struct solution solution = {0};
    struct error err = {0};
    const struct index *order[INDEX_SET_MOST];
    struct model_options options = {.lens = {.width = 3000, .height = 2000},
                                    .up_angle_deg = random_between(random, 0, 360),
                                    .position_noise_px = 0.3,
                                    .mag_noise = 0.1,
                                    .colour_term = 0.3,
                                    .spurious = random_between(random, 0.02, 0.2),
                                    .missing = random_between(random, 0.01, 0.08),
                                    .blend_px = 6,
                                    .limit_mag = 15.3,
                                    .max_stars = 2000,
                                    .seed = random_bits(random)};
    options.lens.scale_arcsec = width_deg * 3600 / options.lens.width;
    radec_offset(&options.ra_deg, &options.dec_deg, region_ra, region_dec,
                 random_between(random, 0, 360), region_deg * sqrt(random_uniform(random)));
    const struct solve_options known = {.scale_arcsec = options.lens.scale_arcsec *
                                                        random_between(random, 0.92, 1.08),
                                        .scale_tolerance = 0.1};
    ck_assert_int_eq(model_star_list(&model, fixture_sky(), &options, &err), 0);
    index_set_order(order, set, width_deg * width_deg * 2 / 3);
    for (int i = 0; i < set->parts && !solution.solved; i++) {
        solution_free(&solution);
        ck_assert_int_eq(solve_stars(&solution, &model.list, order[i], &known, &err), 0);
    }
    double ra, dec, true_ra, true_dec;
    bool right = solution.solved;
    if (right) {
        wcs_centre(&solution.wcs, &ra, &dec);
        wcs_centre(&model.truth, &true_ra, &true_dec);
        right = radec_angle_deg(ra, dec, true_ra, true_dec) < 0.01 * width_deg;
    }
    solution_free(&solution);
    model_stars_free(&model);
    return right;
}

/* Fields of 0.3 to 2.5 degrees, the focal length known to 10 %: 99 % solve. */
START_TEST(test_narrow_fields)
{
    enum { FIELDS = 200 };
    struct index_set set = {0};
    struct error err = {0};
    struct random random = {12};
    char folder[512];
    int right = 0;
    make_folder(folder);
    ck_assert_msg(index_set_add(&set, folder, &err) == 0, "%s", err.text);
    for (int i = 0; i < FIELDS; i++) {
        right += solve_field(&set, 0.3 * pow(2.5 / 0.3, random_uniform(&random)), &random);
    }
    ck_assert_msg(right >= 0.99 * FIELDS, "%d of %d", right, (int)FIELDS);
    index_set_close(&set);
}
END_TEST

Suite *index_set_suite(void)
{
    Suite *suite = suite_create("index_set");
    TCase *all = tcase_create("several indexes");
    tcase_add_unchecked_fixture(all, fixture_make_index, NULL);
    tcase_add_unchecked_fixture(all, make_all, free_all);
    tcase_set_timeout(all, 120);
    tcase_add_test(all, test_density);
    tcase_add_test(all, test_folder_and_order);
    tcase_add_test(all, test_narrow_fields);
    suite_add_tcase(suite, all);
    return suite;
}
