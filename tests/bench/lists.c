/* tests/bench/lists.c: what share of modelled star lists is solved, rightly, and how fast. */
#include "base/parallel.h"
#include "demo/model_stars.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>
#include <string.h>

/* One kind of list. Zeros: as a typical evening gives it. */
struct kind {
    const char *name, *text;
    int lists, quick;
    double low_deg, high_deg; /* widths, evenly by their logarithm */
    bool hint;                /* focal length stated, within 10 % */
    bool scrambled;           /* places shuffled: has no answer */
    bool mirrored;
    double spurious, missing;
    double distortion; /* at the corner, either sign */
    double trail_px;
    double axis_off;               /* of half the width: a crop from the side of a larger picture */
    double position_px, magnitude; /* errors */
    int fewest, most;              /* stars that are left, the brightest; 0: all */
    bool previous;                 /* the frame of 100 s before, from the same tripod, was solved */
};

#define ALL 4, 40
static const struct kind kinds[] = {
    {"blind", "blind, 4-40 deg", 4000, 500, ALL, .axis_off = 0},
    {"narrow-hint", "2.5-4 deg, focal length to 10 %", 1000, 100, 2.5, 4, .hint = true},
    {"narrow", "2.5-4 deg, blind", 500, 40, 2.5, 4, .hint = false},
    {"spurious", "60 % of detections spurious", 500, 40, ALL, .spurious = 0.6},
    {"missing", "40 % of catalogue stars missing", 500, 40, ALL, .missing = 0.4},
    {"both", "60 % spurious and 40 % missing", 500, 40, ALL, .spurious = 0.6, .missing = 0.4},
    {"distortion", "6 % distortion at the corner", 500, 40, ALL, .distortion = 0.06},
    {"trails", "12 px trails", 500, 40, ALL, .trail_px = 12},
    {"mirrored", "mirrored", 500, 40, ALL, .mirrored = true},
    {"crop-25", "crop, axis 25 % of half width off", 500, 40, ALL, .axis_off = 0.25},
    {"crop-50", "crop, axis 50 % of half width off", 500, 40, ALL, .axis_off = 0.5},
    {"crop-75", "crop, axis 75 % of half width off", 500, 40, ALL, .axis_off = 0.75},
    {"wide-60", "60 deg wide", 300, 30, 60, 60, .hint = false},
    {"wide-75", "75 deg wide", 300, 30, 75, 75, .hint = false},
    {"wide-90", "90 deg wide", 300, 30, 90, 90, .hint = false},
    /* The axes of Rijlaarsdam et al. 2020, Sensors 20, 2579, table 2, that are not above. */
    {"position-1", "positions off by 1 px", 300, 0, ALL, .position_px = 1},
    {"position-2", "positions off by 2 px", 300, 0, ALL, .position_px = 2},
    {"magnitude-0.5", "magnitudes off by 0.5", 300, 0, ALL, .magnitude = 0.5},
    {"magnitude-1", "magnitudes off by 1", 300, 0, ALL, .magnitude = 1},
    {"few", "16 to 40 stars, 4-40 deg", 500, 40, ALL, .fewest = 16, .most = 40},
    {"fewer", "8 to 16 stars, 4-40 deg", 500, 40, ALL, .fewest = 8, .most = 16},
    {"previous", "the frame of 100 s before is known", 1000, 100, ALL, .previous = true},
    {"scrambled", "places shuffled: no answer exists", 200, 30, ALL, .scrambled = true},
};
enum { KINDS = sizeof kinds / sizeof kinds[0], BINS = 6, OCTANTS = 8 };
static const double bin_edge[BINS + 1] = {2.5, 4, 6.3, 10, 16, 25, 40.01};

struct outcome {
    double width_deg, up_deg;
    bool solved, right, wrong; /* neither right nor wrong: the right place, measured badly */
    int listed;                /* catalogue stars among the brightest 1200 detections */
    int matched;
    double rms_px;
    long hypotheses;
    double chance_log10, cpu_ms, match_ms;
    double centre_error, scale_error; /* share of the width, share */
};

struct run {
    const struct kind *kind;
    int group, first;
    const struct bench_sky *sky;
    struct outcome *outcome;
};

static void set_errors(struct model_options *model, struct random *r, const struct kind *kind)
{
    model->position_noise_px = kind->position_px > 0 ? kind->position_px : 0.3;
    model->mag_noise = kind->magnitude > 0 ? kind->magnitude : 0.1;
    model->colour_term = 0.3;
    model->spurious = kind->spurious > 0 ? kind->spurious : random_between(r, 0.02, 0.2);
    model->missing = kind->missing > 0 ? kind->missing : random_between(r, 0.01, 0.08);
    model->blend_px = 6;
    model->max_stars = 4000;
}

/* Moves the axis and lets the distortion be that of the uncropped picture. */
static void crop(struct lens *lens, struct random *r, double axis_off)
{
    double angle = random_between(r, 0, 2 * PI), off = axis_off * BENCH_WIDTH / 2;
    lens->axis_x = off * cos(angle);
    lens->axis_y = off * sin(angle);
    lens->corner_px = hypot(BENCH_WIDTH, BENCH_HEIGHT) / 2 + off;
}

/* Deeper than the brightest 4000 need, a list takes long to make and is cut off again. */
static double useful_depth(double width_deg)
{
    double limit = 6, area = width_deg * width_deg * 2 / 3;
    while (limit < 15 && starfield_whole_sky(limit) / 41253 * area < 3 * 4000) {
        limit += 0.25;
    }
    return limit;
}

static struct model_options make_options(struct random *r, const struct kind *kind)
{
    double width = bench_log_between(r, kind->low_deg, kind->high_deg), v[3];
    struct camera camera = bench_camera(r, width);
    struct model_options model = {.lens = bench_lens(r, &camera)};
    random_direction(r, v);
    vector_to_radec(&model.ra_deg, &model.dec_deg, v);
    model.up_angle_deg = random_between(r, 0, 360);
    double cos_dec = fmax(cos(model.dec_deg * RAD_PER_DEG), 0.2);
    if (kind->trail_px > 0) {
        camera.exposure_s = kind->trail_px * model.lens.scale_arcsec / (15.041 * cos_dec);
    }
    model.exposure_s = camera.exposure_s;
    double limit = camera_limit_mag(&camera, 7, camera_trail_px(&camera, model.dec_deg));
    model.limit_mag = fmin(limit, useful_depth(width));
    if (kind->distortion > 0) {
        model.lens.distortion = random_uniform(r) < 0.5 ? kind->distortion : -kind->distortion;
    }
    if (kind->axis_off > 0) {
        crop(&model.lens, r, kind->axis_off);
    }
    model.lens.mirrored = kind->mirrored;
    set_errors(&model, r, kind);
    model.seed = random_bits(r);
    return model;
}

static struct solve_options make_hint(struct random *r, const struct kind *kind, double scale)
{
    struct solve_options options = {0};
    if (kind->hint) {
        options.scale_arcsec = scale / random_between(r, 0.9, 1.1);
        options.scale_tolerance = 0.1;
    }
    return options;
}

static void solve_one(struct outcome *out, const struct model_stars *model,
                      const struct solve_options *options, const struct index *index)
{
    struct solution solution = {0};
    struct error err = {0};
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(solve_stars(&solution, &model->list, index, options, &err), &err);
    out->cpu_ms = bench_ms(CLOCK_THREAD_CPUTIME_ID) - start;
    /* The wall clock counts other programs, the processor time the fit: both are too much. */
    out->match_ms = fmin(solution.match_ms, out->cpu_ms);
    out->solved = solution.solved;
    if (solution.solved) {
        bench_errors(&out->centre_error, &out->scale_error, &solution.wcs, &model->truth);
    }
    out->right = solution.solved && bench_is_right(&solution.wcs, &model->truth);
    out->wrong = solution.solved && !out->right && out->centre_error > 0.05;
    out->matched = solution.matched;
    out->rms_px = solution.rms_px;
    out->hypotheses = solution.hypotheses;
    out->chance_log10 = solution.chance_log10;
    solution_free(&solution);
}

/* What is expected after the frame of 100 s before. False if that frame does not solve. */
static bool expect(struct pose *pose, const struct model_options *now, const struct run *run)
{
    const double turn = 100 * 15.041 / 3600;
    struct model_options before = *now;
    struct model_stars model = {0};
    struct solution solution = {0};
    const struct solve_options nothing = {0};
    struct error err = {0};
    before.ra_deg -= turn;
    before.seed++;
    bench_require(model_star_list(&model, &run->sky->field, &before, &err), &err);
    bench_require(solve_stars(&solution, &model.list, &run->sky->index.index, &nothing, &err),
                  &err);
    bool solved = solution.solved;
    *pose = solution.pose;
    pose_turn_east(pose, turn);
    pose_expect(pose, 0.01);
    solution_free(&solution);
    model_stars_free(&model);
    return solved;
}

static void try_list(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed((unsigned)run->group, (unsigned)(run->first + item))};
    struct model_options options = make_options(&random, run->kind);
    struct model_stars model = {0};
    struct error err = {0};
    bench_require(model_star_list(&model, &run->sky->field, &options, &err), &err);
    if (run->kind->most > 0) {
        int left = (int)bench_log_between(&random, run->kind->fewest, run->kind->most + 1);
        model.list.count = left < model.list.count ? left : model.list.count;
    }
    if (run->kind->scrambled) {
        bench_scramble(&model.list, &random);
    }
    for (int i = 0; i < model.list.count && i < 1200; i++) {
        out->listed += model.hip[i] != 0;
    }
    /* A header states the focal length; the scale on the axis follows from it. */
    struct solve_options hint = make_hint(&random, run->kind, options.lens.scale_arcsec);
    out->width_deg = BENCH_WIDTH * options.lens.scale_arcsec / ARCSEC_PER_RAD;
    out->width_deg = 2 * atan(out->width_deg / 2) * DEG_PER_RAD;
    out->up_deg = options.up_angle_deg;
    struct pose pose;
    if (run->kind->previous && expect(&pose, &options, run)) {
        hint.expected = &pose;
    }
    solve_one(out, &model, &hint, &run->sky->index.index);
    if (run->kind->scrambled) {
        out->right = false;
        out->wrong = out->solved;
    }
    model_stars_free(&model);
}

struct settings {
    const char *index, *numbers, *kind;
    bool quick, failed;
    int lists, first, threads;
};

struct tally {
    int lists, right, inexact, wrong;
};

static void count(struct tally *t, const struct outcome *o)
{
    t->lists++;
    t->right += o->right;
    t->inexact += o->solved && !o->right && !o->wrong;
    t->wrong += o->wrong;
}

static void print_share(const struct tally *t)
{
    if (t->lists) {
        printf(" %6.1f", 100.0 * t->right / t->lists);
    } else {
        printf("      -");
    }
}

static void note(const char *file, const struct kind *kind, const char *what, double value)
{
    char key[80];
    snprintf(key, sizeof key, "lists.%s.%s", kind->name, what);
    bench_note(file, key, value);
}

/* Of all lists of the kind, whether they were solved or not. */
static void report_times(const struct run *run, int lists, const char *numbers)
{
    double *match = bench_calloc((size_t)lists, sizeof *match);
    double *whole = bench_calloc((size_t)lists, sizeof *whole);
    for (int i = 0; i < lists; i++) {
        match[i] = run->outcome[i].match_ms;
        whole[i] = run->outcome[i].cpu_ms;
    }
    double median = bench_quantile(match, lists, 0.5), late = bench_quantile(match, lists, 0.99);
    double longest = bench_quantile(match, lists, 1);
    printf(" | %8.2f %8.1f %8.1f | %8.2f %8.1f\n", median, late, longest,
           bench_quantile(whole, lists, 0.5), bench_quantile(whole, lists, 0.99));
    note(numbers, run->kind, "match_median_ms", median);
    note(numbers, run->kind, "match_99_ms", late);
    note(numbers, run->kind, "match_longest_ms", longest);
    free(match);
    free(whole);
}

static void report_rotation(const struct run *run, int lists, const char *numbers)
{
    struct tally octant[OCTANTS] = {{0}};
    double worst = 100;
    for (int i = 0; i < lists; i++) {
        count(&octant[(int)(run->outcome[i].up_deg / 45) % OCTANTS], &run->outcome[i]);
    }
    for (int i = 0; i < OCTANTS; i++) {
        worst = fmin(worst, octant[i].lists ? 100.0 * octant[i].right / octant[i].lists : 100);
    }
    printf("%-36s %5d %47.1f\n", "  worst 45 deg of rotation", lists / OCTANTS, worst);
    note(numbers, run->kind, "worst_rotation_percent", worst);
}

/* Returns how many were answered wrongly. */
static int report(const struct run *run, int lists, const char *numbers)
{
    struct tally all = {0}, bin[BINS] = {{0}};
    for (int i = 0; i < lists; i++) {
        const struct outcome *o = &run->outcome[i];
        count(&all, o);
        for (int b = 0; b < BINS; b++) {
            if (o->width_deg >= bin_edge[b] && o->width_deg < bin_edge[b + 1]) {
                count(&bin[b], o);
            }
        }
    }
    printf("%-36s %5d", run->kind->text, lists);
    for (int b = 0; b < BINS; b++) {
        print_share(&bin[b]);
    }
    print_share(&all);
    printf(" %7d %5d", all.inexact, all.wrong);
    report_times(run, lists, numbers);
    note(numbers, run->kind, "right_percent", 100.0 * all.right / lists);
    note(numbers, run->kind, "inexact", all.inexact);
    note(numbers, run->kind, "wrong", all.wrong);
    note(numbers, run->kind, "lists", lists);
    if (strcmp(run->kind->name, "blind") == 0) {
        report_rotation(run, lists, numbers);
    }
    return all.wrong;
}

static void print_failed(const struct run *run, int lists)
{
    for (int i = 0; i < lists; i++) {
        const struct outcome *o = &run->outcome[i];
        if (o->right || (run->kind->scrambled && !o->solved)) {
            continue;
        }
        printf("  %s --kind %s --first %d --lists 1: %.2f deg, %d catalogue stars, ",
               o->wrong    ? "WRONG"
               : o->solved ? "inexact"
                           : "no answer",
               run->kind->name, run->first + i, o->width_deg, o->listed);
        printf("%ld hypotheses, best chance 1e%.1f", o->hypotheses, o->chance_log10);
        if (o->solved) {
            printf(", %d pairs, rms %.2f px, centre off by %.2g %% of the width, scale by %.2g %%",
                   o->matched, o->rms_px, 100 * o->centre_error, 100 * o->scale_error);
        }
        printf("\n");
    }
}

static int measure(const struct kind *kind, int group, const struct settings *s,
                   const struct bench_sky *sky)
{
    int lists = s->lists > 0 ? s->lists : s->quick ? kind->quick : kind->lists;
    struct run run = {.kind = kind, .group = group, .first = s->first, .sky = sky};
    if (lists == 0 || (s->kind && strcmp(s->kind, kind->name) != 0)) {
        return 0;
    }
    run.outcome = bench_calloc((size_t)lists, sizeof *run.outcome);
    parallel_each(lists, s->threads, try_list, &run);
    int wrong = report(&run, lists, s->numbers);
    if (s->failed) {
        print_failed(&run, lists);
    }
    fflush(stdout);
    free(run.outcome);
    return wrong;
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"quick", 0, OPTION_FLAG, NULL, "A sample of each kind.", AT(quick), 0, 0, false, NULL, NULL},
    {"kind", 0, OPTION_TEXT, "NAME", "Only this kind of list.", AT(kind), 0, 0, false, NULL, NULL},
    {"lists", 0, OPTION_INTEGER, "N", "So many of each kind.", AT(lists), 1, 10000000, false, NULL,
     NULL},
    {"first", 0, OPTION_INTEGER, "N", "Begin with this list (default 0).", AT(first), 0, 10000000,
     false, NULL, NULL},
    BENCH_FAILED_OPTION,
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx", .threads = parallel_processors()};
    struct bench_sky sky = {0};
    int wrong = 0;
    if (!bench_start(&settings, rows, argc, argv, "lists [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    printf("Share solved rightly, %%, by width in degrees; processor time, ms: "
           "median, 99 %%, longest\n");
    printf("%-36s %5s %6s %6s %6s %6s %6s %6s %6s %7s %5s | %8s %8s %8s | %8s %8s\n", "", "lists",
           "2.5-4", "-6.3", "-10", "-16", "-25", "-40", "all", "inexact", "wrong", "match", "99 %",
           "longest", "and fit", "99 %");
    for (int i = 0; i < KINDS; i++) {
        wrong += measure(&kinds[i], i, &settings, &sky);
    }
    bench_note(settings.numbers, "lists.wrong", wrong);
    bench_sky_free(&sky);
    return 0;
}
