/* tests/bench/deep.c: what share of modelled star lists of narrow fields, 0.3 to 2.5 degrees, is
 * solved by a deep index of the region: all stars to V 15 within 5 degrees, as `alidade-index build
 * --near --within --faintest` makes it of a catalogue. Nothing is told of scale or place. */
#include "base/parallel.h"
#include "build.h"
#include "demo/model_stars.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>

/* Degrees, magnitudes; shares of the catalogue's stars and of detections that are not there. */
static const double region_deg = 5, faintest = 15, lost = 0.05, low_deg = 0.3, high_deg = 2.5;

struct outcome {
    bool solved, right;
    double width_deg, match_ms;
    int stars;
};

struct run {
    const struct starfield *field;
    const struct index *index;
    double middle[3];
    int region;
    struct outcome *outcome;
};

/* A telescope of 80 to 150 mm that follows the sky, exposed for 5 to 30 s. */
static struct model_options make_options(struct random *r, const struct run *run, double width)
{
    double ra, dec;
    struct camera camera = bench_camera(r, width);
    camera.f_number = camera.focal_mm / bench_log_between(r, 80, 150);
    camera.exposure_s = bench_log_between(r, 5, 30);
    vector_to_radec(&ra, &dec, run->middle);
    struct model_options model = {
        .lens = bench_lens(r, &camera),
        .limit_mag = fmin(camera_limit_mag(&camera, 7, 0), 16),
        .position_noise_px = 0.3,
        .mag_noise = 0.1,
        .colour_term = 0.3,
        .spurious = random_between(r, 0.02, 0.2),
        .missing = lost,
        .blend_px = 6,
        .max_stars = 4000,
        .up_angle_deg = random_between(r, 0, 360),
    };
    double off = (region_deg - width) * sqrt(random_uniform(r));
    radec_offset(&model.ra_deg, &model.dec_deg, ra, dec, random_between(r, 0, 360), off);
    model.seed = random_bits(r);
    return model;
}

static void try_list(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(1000 + (unsigned)run->region, (unsigned)item)};
    out->width_deg = bench_log_between(&random, low_deg, high_deg);
    struct model_options options = make_options(&random, run, out->width_deg);
    const struct solve_options nothing = {0};
    struct model_stars model = {0};
    struct solution solution = {0};
    struct error err = {0};
    bench_require(model_star_list(&model, run->field, &options, &err), &err);
    bench_require(solve_stars(&solution, &model.list, run->index, &nothing, &err), &err);
    out->stars = model.list.count;
    out->solved = solution.solved;
    out->right = solution.solved && bench_is_right(&solution.wcs, &model.truth);
    out->match_ms = solution.match_ms;
    solution_free(&solution);
    model_stars_free(&model);
}

/* The index of one region, in a file without a name that is mapped; some stars are missing from
 * the catalogue, whose magnitudes are a tenth off. */
static void *make_index(struct index *index, struct run *run, struct random *random)
{
    struct error err = {0};
    struct catalogue catalogue = {.epoch_year = 2000};
    struct sky_view view = {0};
    struct build_report report;
    const struct build_options options = {.name = "made up", .density = 1e5, .faintest = NAN};
    char *bytes = NULL;
    size_t size = 0;
    random_direction(random, run->middle);
    bench_require(starfield_look(&view, run->field, run->middle, region_deg, faintest, &err), &err);
    for (int i = 0; i < view.count; i++) {
        double ra, dec;
        vector_to_radec(&ra, &dec, view.star[i].v);
        if (random_uniform(random) > lost) {
            double mag = view.star[i].mag + 0.1 * random_normal(random);
            catalogue_add(&catalogue, ra, dec, mag, view.star[i].b_v, 0);
        }
    }
    FILE *file = open_memstream(&bytes, &size);
    if (!file) {
        bench_require(error_memory(&err), &err);
        return NULL;
    }
    bench_require(build_index(file, &report, &catalogue, &options, &err), &err);
    fclose(file);
    bench_require(index_decode(index, bytes, size, &err), &err);
    catalogue_free(&catalogue);
    sky_view_free(&view);
    return bytes;
}

struct settings {
    const char *numbers;
    int lists, regions, threads;
    bool failed;
};

static void print_failed(const struct run *run, int lists)
{
    for (int i = 0; i < lists; i++) {
        const struct outcome *o = &run->outcome[i];
        if (!o->right) {
            printf("  %s: region %d, list %d: %.2f deg, %d stars\n",
                   o->solved ? "wrong or inexact" : "no answer", run->region, i, o->width_deg,
                   o->stars);
        }
    }
}

static void report(const struct outcome *outcome, int count, const char *numbers)
{
    static const double edge[] = {0.3, 0.5, 0.85, 1.5, 2.51};
    int right = 0, wrong = 0;
    double *ms = bench_calloc((size_t)count, sizeof *ms);
    for (int i = 0; i < count; i++) {
        right += outcome[i].right;
        wrong += outcome[i].solved && !outcome[i].right;
        ms[i] = outcome[i].match_ms;
    }
    for (int b = 0; b < 4; b++) {
        int here = 0, good = 0;
        for (int i = 0; i < count; i++) {
            bool within = outcome[i].width_deg >= edge[b] && outcome[i].width_deg < edge[b + 1];
            here += within;
            good += within && outcome[i].right;
        }
        printf("%.2f to %.2f deg: %d of %d\n", edge[b], edge[b + 1], good, here);
    }
    printf("all: %d of %d, %d wrong or inexact; match %.2f ms, 99 %% %.1f ms\n", right, count,
           wrong, bench_quantile(ms, count, 0.5), bench_quantile(ms, count, 0.99));
    bench_note(numbers, "deep.right_percent", 100.0 * right / count);
    bench_note(numbers, "deep.wrong", wrong);
    free(ms);
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    {"lists", 0, OPTION_INTEGER, "N", "So many of each region (default 60).", AT(lists), 1, 100000,
     false, NULL, NULL},
    {"regions", 0, OPTION_INTEGER, "N", "Default 8.", AT(regions), 1, 1000, false, NULL, NULL},
    BENCH_FAILED_OPTION,
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings s = {.lists = 60, .regions = 8, .threads = parallel_processors()};
    struct starfield field = {0};
    struct error err = {0};
    struct random random = {15};
    if (!bench_start(&s, rows, argc, argv, "deep [options]")) {
        return 0;
    }
    bench_require(starfield_load(&field, "catalogs/stars.tsv", 1, &err), &err);
    struct outcome *outcome = bench_calloc((size_t)(s.lists * s.regions), sizeof *outcome);
    for (int region = 0; region < s.regions; region++) {
        struct index index = {0};
        struct run run = {.field = &field, .index = &index, .region = region};
        void *bytes = make_index(&index, &run, &random);
        run.outcome = outcome + region * s.lists;
        parallel_each(s.lists, s.threads, try_list, &run);
        if (s.failed) {
            print_failed(&run, s.lists);
        }
        free(bytes);
    }
    report(outcome, s.lists * s.regions, s.numbers);
    free(outcome);
    starfield_free(&field);
    return 0;
}
