#include "match/verify.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/model_stars.h"
#include "index_fixture.h"
#include "match/quad.h"
#include "match/search.h"
#include "near.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *verify_suite(void);

enum { WIDTH = 3000, HEIGHT = 2000, HYPOTHESES = 20000 };

static const double pixel_tolerance = 0.006; /* of a shape, as the search has it */

static struct verify_options usual_options(void)
{
    return (struct verify_options){
        .prior = {0.02, 0.015 * hypot(WIDTH, HEIGHT)}, .scale_low = 0.1, .scale_high = 7200};
}

/* How often the likelihood ratio went beyond 10, 100 and 1000. */
struct tally {
    const uint32_t *hip; /* of the detections; NULL if none is a star */
    long hypotheses, beyond[3];
};

/* A quad that names even one star rightly is no chance event and does not count: the shape of a
 * compact cluster outlives much. */
static void count_verdict(struct tally *tally, const struct verdict *verdict)
{
    const struct index *index = fixture_index();
    for (int i = 0; i < 4 && tally->hip; i++) {
        if (index_number(index, verdict->star[i]) == tally->hip[verdict->detection[i]]) {
            return;
        }
    }
    tally->hypotheses++;
    for (int i = 0; i < 3; i++) {
        tally->beyond[i] += verdict->log_ratio > (i + 1) * log(10);
    }
}

/* Ville's inequality: at most a share 1/R of wrong hypotheses gets beyond R. Counts scatter by
 * their square root; three deviations are allowed. */
static void assert_fair(const struct tally *tally, const char *what)
{
    double ratio = 10;
    ck_assert_int_ge(tally->hypotheses, HYPOTHESES);
    for (int i = 0; i < 3; i++, ratio *= 10) {
        double most = (double)tally->hypotheses / ratio;
        ck_assert_msg((double)tally->beyond[i] <= most + 3 * sqrt(most),
                      "%s: %ld of %ld hypotheses beyond %g, at most %.0f expected", what,
                      tally->beyond[i], tally->hypotheses, ratio, most);
    }
}

static void scatter(struct star_list *list, int count, struct random *random)
{
    list->count = count;
    list->width = WIDTH;
    list->height = HEIGHT;
    for (int i = 0; i < count; i++) {
        list->star[i] = (struct star){.x = random_between(random, -0.5, WIDTH - 0.5),
                                      .y = random_between(random, -0.5, HEIGHT - 0.5),
                                      .size = 1.2,
                                      .elongation = 1,
                                      .flux = count - i};
    }
}

static void random_in_ball(double offset[4], double radius, struct random *random)
{
    double square;
    do {
        square = 0;
        for (int i = 0; i < 4; i++) {
            offset[i] = random_between(random, -radius, radius);
            square += offset[i] * offset[i];
        }
    } while (square > radius * radius);
}

/* Puts four stars of the list where a quad of the index could have been taken for them: A and B
 * anywhere, C and D anywhere within the tolerance. False if they fall out of the picture. */
static bool plant(struct hypothesis *h, struct star_list *list, const struct index *index,
                  struct random *random)
{
    struct index_block block;
    struct index_quad quad;
    uint32_t anchor;
    while (
        !index_block_open(&block, index, (uint32_t)(random_uniform(random) * index->grid.cells))) {
    }
    double direction[4][3], plane[4][2], shape[4], offset[4], diameter, place[4][2];
    int order[4];
    *h = (struct hypothesis){.tolerance = pixel_tolerance};
    uint64_t number = index_block_number(&block, (uint32_t)(random_uniform(random) * block.count));
    ck_assert(index_numbered_quad(&quad, &anchor, index, number));
    h->anchor = anchor;
    memcpy(h->star, quad.star, sizeof h->star);
    for (int i = 0; i < 4; i++) {
        index_star_vector(direction[i], &index->star[h->star[i]]);
    }
    ck_assert(quad_sky_plane(plane, direction) && quad_shape(shape, order, &diameter, plane));
    random_in_ball(offset, h->tolerance, random);
    double length = random_between(random, 100, 1500), angle = random_between(random, 0, 2 * PI);
    double bx = length * cos(angle), by = length * sin(angle);
    place[0][0] = random_between(random, 0, WIDTH);
    place[0][1] = random_between(random, 0, HEIGHT);
    place[1][0] = place[0][0] + bx;
    place[1][1] = place[0][1] + by;
    for (int i = 0; i < 2; i++) {
        double re = shape[2 * i] + offset[2 * i], im = shape[2 * i + 1] + offset[2 * i + 1];
        place[2 + i][0] = place[0][0] + re * bx - im * by;
        place[2 + i][1] = place[0][1] + re * by + im * bx;
    }
    for (int i = 0; i < 4; i++) {
        if (!(place[i][0] >= 0 && place[i][0] < WIDTH && place[i][1] >= 0 &&
              place[i][1] < HEIGHT)) {
            return false;
        }
        /* Four different ranks, the brighter half rather than not, as in the search. */
        h->detection[i] = (int)(random_uniform(random) * list->count / 8) * 4 + i;
        list->star[h->detection[i]].x = place[i][0];
        list->star[h->detection[i]].y = place[i][1];
    }
    return true;
}

/* The evidence of the quad itself: when C and D lie anywhere in the ball of the tolerance, the
 * ratio of the two densities is 1 in the mean. Less of it is left where the densities reach out of
 * the ball. With nothing but the quad in the list no other star can raise the ratio. */
START_TEST(test_mean_ratio_of_a_quad)
{
    static struct star star[8];
    static struct detections detections;
    const struct index *index = fixture_index();
    const struct verify_options options = usual_options();
    struct star_list list = {.star = star};
    struct random random = {6};
    double sum = 0;
    int count = 0;
    while (count < HYPOTHESES) {
        struct hypothesis h;
        struct verdict verdict;
        scatter(&list, 8, &random);
        if (!plant(&h, &list, index, &random)) {
            continue;
        }
        for (int i = 0; i < 4; i++) {
            star[i] = star[h.detection[i]];
            h.detection[i] = i;
        }
        list.count = 4;
        detections_make(&detections, &list);
        if (verify_hypothesis(&verdict, &h, &detections, index, &options)) {
            ck_assert_int_eq(verdict.pairs, 4);
            sum += exp(verdict.log_ratio);
            count++;
        }
    }
    ck_assert_msg(sum / count > 0.3 && sum / count < 1.1, "mean ratio %g", sum / count);
}
END_TEST

/* Detections spread evenly, quads that fit by chance alone. */
START_TEST(test_wrong_hypotheses_on_even_scatter)
{
    static struct star star[300];
    static struct detections detections;
    const struct index *index = fixture_index();
    const struct verify_options options = usual_options();
    struct star_list list = {.star = star};
    struct random random = {1};
    struct tally tally = {0};
    while (tally.hypotheses < HYPOTHESES) {
        struct hypothesis h;
        struct verdict verdict;
        scatter(&list, (int)random_between(&random, 16, 300), &random);
        if (!plant(&h, &list, index, &random)) {
            continue;
        }
        detections_make(&detections, &list);
        if (verify_hypothesis(&verdict, &h, &detections, index, &options)) {
            count_verdict(&tally, &verdict);
        }
    }
    assert_fair(&tally, "even scatter");
}
END_TEST

static bool note_verdict(const struct verdict *verdict, bool mirrored, void *context)
{
    (void)mirrored;
    count_verdict(context, verdict);
    return false;
}

/* Every hypothesis that the first stages of a search find for the list, all of them refused. */
static void search_all(struct tally *tally, const struct star_list *list)
{
    static struct detections direct, mirrored;
    struct search_state state = {0};
    const struct search_options options = {.verify = usual_options(),
                                           .near_cos = -2,
                                           .accept_log10 = 1e9,
                                           .both_hands = true,
                                           .confirm = note_verdict,
                                           .context = tally};
    detections_make(&direct, list);
    detections_mirror(&mirrored, &direct);
    for (int i = 0; i < 6; i++) {
        search_stage(&state, &search_stages[i], &direct, &mirrored, fixture_index(), &options);
    }
    ck_assert(!state.accepted);
}

/* What a real search meets in lists of nothing. */
START_TEST(test_wrong_hypotheses_of_a_search)
{
    static struct star star[400];
    struct star_list list = {.star = star};
    struct random random = {2};
    struct tally tally = {0};
    while (tally.hypotheses < HYPOTHESES) {
        scatter(&list, (int)random_between(&random, 20, 400), &random);
        search_all(&tally, &list);
    }
    assert_fair(&tally, "search in even scatter");
}
END_TEST

/* A modelled picture of the real sky. */
static void look(struct model_stars *model, double width_deg, struct random *random)
{
    double v[3];
    struct model_options options = {.lens = {.width = WIDTH, .height = HEIGHT},
                                    .position_noise_px = 0.3,
                                    .mag_noise = 0.2,
                                    .max_stars = 150,
                                    .missing = 0.05,
                                    .seed = random_bits(random)};
    options.lens.scale_arcsec = 2 * tan(width_deg / 2 * RAD_PER_DEG) * ARCSEC_PER_RAD / WIDTH;
    random_direction(random, v);
    vector_to_radec(&options.ra_deg, &options.dec_deg, v);
    options.up_angle_deg = random_between(random, 0, 360);
    ck_assert_int_eq(model_star_list(model, fixture_sky(), &options, NULL), 0);
}

/* Rows are shifted against each other: all patterns are wrong, clusters stay clusters and ranks
 * stay ranks. */
static void shear(struct star_list *list)
{
    for (int i = 0; i < list->count; i++) {
        list->star[i].x = fmod(list->star[i].x + 0.6 * list->star[i].y + 1, WIDTH) - 0.5;
    }
}

START_TEST(test_wrong_hypotheses_on_a_sheared_sky)
{
    struct model_stars model = {0};
    struct random random = {3};
    struct tally tally = {0};
    while (tally.hypotheses < HYPOTHESES) {
        look(&model, random_between(&random, 8, 50), &random);
        shear(&model.list);
        tally.hip = model.hip;
        search_all(&tally, &model.list);
    }
    assert_fair(&tally, "search in a sheared sky");
    model_stars_free(&model);
}
END_TEST

struct best {
    struct verdict verdict;
    bool mirrored;
};

static bool keep_best(const struct verdict *verdict, bool mirrored, void *context)
{
    struct best *best = context;
    if (best->verdict.pairs == 0 || verdict->log_ratio > best->verdict.log_ratio) {
        *best = (struct best){*verdict, mirrored};
    }
    return false;
}

static void find_best(struct best *best, const struct star_list *list)
{
    static struct detections direct, mirrored;
    struct search_state state = {0};
    const struct search_options options = {.verify = usual_options(),
                                           .near_cos = -2,
                                           .accept_log10 = 1e9,
                                           .both_hands = true,
                                           .confirm = keep_best,
                                           .context = best};
    detections_make(&direct, list);
    detections_mirror(&mirrored, &direct);
    *best = (struct best){0};
    for (int i = 0; i < 3; i++) {
        search_stage(&state, &search_stages[i], &direct, &mirrored, fixture_index(), &options);
    }
}

/* The right hypothesis stands out, its pairs are what they say and its pose is where they are. */
START_TEST(test_right_hypotheses)
{
    enum { LISTS = 60 };
    struct model_stars model = {0};
    struct random random = {4};
    const struct index *index = fixture_index();
    int convincing = 0;
    for (int round = 0; round < LISTS; round++) {
        struct best best;
        look(&model, random_between(&random, 15, 35), &random);
        find_best(&best, &model.list);
        const struct verdict *verdict = &best.verdict;
        if (verdict->log_ratio < 30) {
            continue;
        }
        convincing++;
        int right = 0;
        for (int i = 0; i < verdict->pairs; i++) {
            right += index_number(index, verdict->star[i]) == model.hip[verdict->detection[i]];
            for (int k = 0; k < i; k++) {
                ck_assert(verdict->star[k] != verdict->star[i]);
                ck_assert(verdict->detection[k] != verdict->detection[i]);
            }
        }
        ck_assert(!best.mirrored);
        ck_assert_int_ge(verdict->tested, verdict->pairs - 4);
        ck_assert_msg(right >= 0.9 * verdict->pairs, "%d of %d pairs right", right, verdict->pairs);
        double v[3], ra, dec;
        const double middle[2] = {0, 0};
        pose_direction(v, &verdict->pose, middle);
        vector_to_radec(&ra, &dec, v);
        double true_ra, true_dec;
        wcs_centre(&model.truth, &true_ra, &true_dec);
        double off = radec_angle_deg(ra, dec, true_ra, true_dec) * 3600;
        /* 150 stars good to 0.3 px; the verdict has seen the brightest few dozen of them. */
        assert_near(off / wcs_scale_arcsec(&model.truth), 0, 3, "px");
    }
    /* V 7 is too shallow for a few of them: of 150 stars in 15 degrees half are fainter. */
    ck_assert_msg(convincing >= LISTS * 9 / 10, "%d of %d", convincing, LISTS);
    model_stars_free(&model);
}
END_TEST

/* What is out of the range allowed does not count as tried. */
START_TEST(test_limits_of_scale)
{
    static struct star star[60];
    static struct detections detections;
    const struct index *index = fixture_index();
    struct verify_options options = usual_options();
    struct star_list list = {.star = star};
    struct random random = {5};
    struct hypothesis h;
    struct verdict verdict;
    do {
        scatter(&list, 60, &random);
    } while (!plant(&h, &list, index, &random));
    detections_make(&detections, &list);
    ck_assert(verify_hypothesis(&verdict, &h, &detections, index, &options));
    double v[2][3];
    index_star_vector(v[0], &index->star[h.star[0]]);
    index_star_vector(v[1], &index->star[h.star[1]]);
    const struct detection *a = &detections.d[h.detection[0]], *b = &detections.d[h.detection[1]];
    double scale = vector_angle_deg(v[0], v[1]) * 3600 / hypot(a->x - b->x, a->y - b->y);
    options.scale_low = 0.5 * scale;
    options.scale_high = 2 * scale;
    ck_assert(verify_hypothesis(&verdict, &h, &detections, index, &options));
    options.scale_low = 1.5 * scale;
    ck_assert(!verify_hypothesis(&verdict, &h, &detections, index, &options));
    options.scale_low = 0;
    options.scale_high = 0.7 * scale;
    ck_assert(!verify_hypothesis(&verdict, &h, &detections, index, &options));
    options = usual_options();
    h.detection[1] = h.detection[0];
    ck_assert(!verify_hypothesis(&verdict, &h, &detections, index, &options));
}
END_TEST

Suite *verify_suite(void)
{
    Suite *suite = suite_create("verify");
    TCase *tests = tcase_create("likelihood of hypotheses");
    tcase_add_unchecked_fixture(tests, fixture_make_both, NULL);
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, test_mean_ratio_of_a_quad);
    tcase_add_test(tests, test_wrong_hypotheses_on_even_scatter);
    tcase_add_test(tests, test_wrong_hypotheses_of_a_search);
    tcase_add_test(tests, test_wrong_hypotheses_on_a_sheared_sky);
    tcase_add_test(tests, test_right_hypotheses);
    tcase_add_test(tests, test_limits_of_scale);
    suite_add_tcase(suite, tests);
    return suite;
}
