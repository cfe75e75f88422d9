#include "match/search.h"

#include "near.h"
#include "sky_fixture.h"

#include <stdlib.h>
#include <string.h>

Suite *search_suite(void);

static struct model_stars model;
static struct detections direct, mirrored;

/* Hears of every verdict, if the limit is high. */
struct ear {
    const struct search_stage *stage;
    bool answer; /* whether hypotheses are confirmed */
    long heard, outside;
};

static bool hear(const struct verdict *verdict, bool in_mirror, void *context)
{
    struct ear *ear = context;
    const struct search_stage *stage = ear->stage;
    (void)in_mirror;
    ear->heard++;
    for (int i = 0; i < 4; i++) {
        const struct detection *d = &direct.d[verdict->detection[i]];
        ear->outside += fabs(d->x - stage->place[0] * direct.width) >
                            0.5 * stage->window * direct.width + 1e-9 ||
                        fabs(d->y - stage->place[1] * direct.height) >
                            0.5 * stage->window * direct.height + 1e-9;
    }
    return ear->answer;
}

static struct search_options usual_options(struct ear *ear)
{
    return (struct search_options){.verify = {.prior = {0.02, 0.03 * direct.half_diagonal},
                                              .scale_low = 0.1,
                                              .scale_high = 7200},
                                   .near_cos = -2,
                                   .accept_log10 = 1e9,
                                   .both_hands = true,
                                   .confirm = hear,
                                   .context = ear};
}

static void look(double width_deg, int round, bool in_mirror, struct random *random)
{
    struct model_options options = sky_usual(width_deg, 120);
    options.lens.mirrored = in_mirror;
    sky_point(&options, round, random);
    sky_look(&model, &options);
    detections_make(&direct, &model.list);
    detections_mirror(&mirrored, &direct);
}

static void run_stage(struct search_state *state, const struct search_stage *stage,
                      struct search_options *options)
{
    ((struct ear *)options->context)->stage = stage;
    search_stage(state, stage, &direct, &mirrored, fixture_index(), options);
}

/* Quads of a stage by its own rule: each anchor with three of its nearest brighter stars. */
static long quads_of(long stars, long neighbours)
{
    long sum = 0;
    for (long anchor = 3; anchor < stars; anchor++) {
        long n = anchor < neighbours ? anchor : neighbours;
        sum += n * (n - 1) * (n - 2) / 6;
    }
    return sum;
}

/* Each quad once in each hand, and a wider stage only those that an earlier one left. Quads too
 * short to have a code are left out: they are few. */
START_TEST(test_number_of_lookups)
{
    const struct search_stage first = {
        .window = 1, .stars = 14, .neighbours = 6, .tolerance = 0.006};
    struct search_stage all = first, rest;
    all.stars = 40;
    all.neighbours = 7;
    rest = all;
    rest.done_stars = first.stars;
    rest.done_neighbours = first.neighbours;
    struct random random = {1};
    for (int round = 0; round < 8; round++) {
        struct search_state in_two = {0}, in_one = {0}, one_hand = {0};
        struct ear ear = {0};
        look(20, round, false, &random);
        struct search_options options = usual_options(&ear);
        run_stage(&in_two, &first, &options);
        ck_assert_int_le(in_two.lookups, 2 * quads_of(14, 6));
        ck_assert_int_ge(in_two.lookups, 2 * quads_of(14, 6) * 9 / 10);
        run_stage(&in_two, &rest, &options);
        run_stage(&in_one, &all, &options);
        ck_assert_int_eq(in_two.lookups, in_one.lookups);
        ck_assert_int_eq(in_two.hypotheses, in_one.hypotheses);
        assert_near(in_two.best.log_ratio, in_one.best.log_ratio, 0, "ln");
        options.both_hands = false;
        run_stage(&one_hand, &all, &options);
        ck_assert_int_eq(2 * one_hand.lookups, in_one.lookups);
    }
}
END_TEST

/* Only stars of the window are in the quads. */
START_TEST(test_windows)
{
    static const struct search_stage stages[] = {
        {.window = 0.35, .place = {0, 0}, .stars = 30, .neighbours = 7, .tolerance = 0.006},
        {.window = 0.35, .place = {-0.3, 0.3}, .stars = 30, .neighbours = 7, .tolerance = 0.006},
        {.window = 0.6, .place = {0.1, -0.2}, .stars = 40, .neighbours = 7, .tolerance = 0.006},
    };
    struct random random = {2};
    struct ear ear = {0};
    for (int round = 0; round < 20; round++) {
        look(40, round, false, &random);
        struct search_options options = usual_options(&ear);
        for (int i = 0; i < 3; i++) {
            struct search_state state = {0};
            run_stage(&state, &stages[i], &options);
        }
    }
    ck_assert_int_gt(ear.heard, 1000);
    ck_assert_int_eq(ear.outside, 0);
}
END_TEST

static bool is_right(const struct verdict *verdict)
{
    int right = 0;
    for (int i = 0; i < verdict->pairs; i++) {
        right +=
            index_number(fixture_index(), verdict->star[i]) == model.hip[verdict->detection[i]];
    }
    return right >= 0.9 * verdict->pairs;
}

/* Through the table of stages until something is accepted. */
static void search(struct search_state *state, struct search_options *options)
{
    *state = (struct search_state){0};
    for (int i = 0; i < 6 && !state->accepted; i++) {
        run_stage(state, &search_stages[i], options);
    }
}

START_TEST(test_hands)
{
    enum { LISTS = 24 };
    struct random random = {3};
    int found[2] = {0, 0};
    for (int round = 0; round < LISTS; round++) {
        bool in_mirror = round % 2;
        struct search_state state;
        struct ear ear = {.answer = true};
        look(25, round, in_mirror, &random);
        struct search_options options = usual_options(&ear);
        options.accept_log10 = -6;
        search(&state, &options);
        if (state.accepted) {
            ck_assert(state.best_mirrored == in_mirror);
            ck_assert(is_right(&state.best));
            ck_assert(state.chance_log10 < -6);
            assert_near(state.chance_log10,
                        log10((double)state.hypotheses) - state.best.log_ratio / log(10), 1e-9,
                        "log10");
            ck_assert_int_eq(ear.heard, 1);
            found[in_mirror]++;
        }
        options.both_hands = false;
        search(&state, &options);
        ck_assert(!(in_mirror && state.accepted));
    }
    /* To V 7 alone, and with six of the stages, nearly all of 25 degrees are found. */
    ck_assert_int_ge(found[0], LISTS / 2 - 1);
    ck_assert_int_ge(found[1], LISTS / 2 - 1);
}
END_TEST

/* What is accepted but not confirmed does not end the search, and the best is kept. */
START_TEST(test_unconfirmed)
{
    struct random random = {4};
    struct search_state state;
    struct ear ear = {.answer = false};
    look(25, 1, false, &random);
    struct search_options options = usual_options(&ear);
    options.accept_log10 = -6;
    search(&state, &options);
    ck_assert(!state.accepted);
    ck_assert_int_gt(ear.heard, 1);
    ck_assert(is_right(&state.best));
}
END_TEST

/* Only quads near the place named are tried; those near another are not. */
START_TEST(test_near)
{
    struct random random = {5};
    int found = 0;
    for (int round = 0; round < 12; round++) {
        struct search_state state;
        struct ear ear = {.answer = true};
        look(25, round, false, &random);
        struct search_options options = usual_options(&ear);
        double ra, dec;
        wcs_centre(&model.truth, &ra, &dec);
        options.accept_log10 = -6;
        options.near_cos = cos(20 * RAD_PER_DEG);
        vector_from_radec(options.near, ra, dec);
        search(&state, &options);
        found += state.accepted && is_right(&state.best);
        vector_from_radec(options.near, ra + 180, -dec);
        search(&state, &options);
        ck_assert(!state.accepted);
        for (int i = 0; i < 4 && state.best.pairs > 0; i++) {
            double v[3];
            index_star_vector(v, &fixture_index()->star[state.best.star[i]]);
            /* The anchor is within 20 degrees, the others within the widest quad of it. */
            ck_assert(vector_angle_deg(v, options.near) < 20 + 30);
        }
    }
    ck_assert_int_ge(found, 11);
}
END_TEST

/* Counts add up from stage to stage. */
START_TEST(test_state_is_carried)
{
    struct random random = {6};
    struct search_state state = {0};
    struct ear ear = {.answer = false};
    look(12, 1, false, &random);
    struct search_options options = usual_options(&ear);
    for (int i = 0; i < search_stage_count; i++) {
        long lookups = state.lookups, hypotheses = state.hypotheses;
        double best = state.best.log_ratio;
        run_stage(&state, &search_stages[i], &options);
        ck_assert(state.lookups >= lookups && state.hypotheses >= hypotheses);
        ck_assert(hypotheses == 0 || state.best.log_ratio >= best);
    }
    ck_assert_int_eq(ear.heard, state.hypotheses);
}
END_TEST

/* None to three stars, and many in one place. */
START_TEST(test_lists_without_quads)
{
    struct star star[60] = {{0}};
    struct star_list list = {.star = star, .width = 3000, .height = 2000};
    for (int i = 0; i < 60; i++) {
        star[i] = (struct star){.x = 100, .y = 200, .size = 1, .elongation = 1};
    }
    static const int counts[] = {0, 1, 3, 60};
    for (int k = 0; k < 4; k++) {
        struct search_state state = {0};
        struct ear ear = {0};
        list.count = counts[k];
        detections_make(&direct, &list);
        detections_mirror(&mirrored, &direct);
        struct search_options options = usual_options(&ear);
        for (int i = 0; i < search_stage_count; i++) {
            run_stage(&state, &search_stages[i], &options);
        }
        ck_assert_int_eq(state.lookups, 0);
        ck_assert_int_eq(state.hypotheses, 0);
        ck_assert_int_eq(state.best.pairs, 0);
    }
}
END_TEST

static void free_model(void)
{
    model_stars_free(&model);
}

Suite *search_suite(void)
{
    Suite *suite = suite_create("search");
    TCase *tests = tcase_create("stages of the search");
    tcase_add_unchecked_fixture(tests, fixture_make_both, NULL);
    tcase_add_checked_fixture(tests, NULL, free_model);
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, test_number_of_lookups);
    tcase_add_test(tests, test_windows);
    tcase_add_test(tests, test_hands);
    tcase_add_test(tests, test_unconfirmed);
    tcase_add_test(tests, test_near);
    tcase_add_test(tests, test_state_is_carried);
    tcase_add_test(tests, test_lists_without_quads);
    suite_add_tcase(suite, tests);
    return suite;
}
