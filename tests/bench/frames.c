/* tests/bench/frames.c: rendered photographs, from pixels to the answer: how many are solved, and
 * how near the fit comes to what light and the catalogue allow. Reading files is left out. */
#include "base/parallel.h"
#include "demo/nebulae.h"
#include "demo/render.h"
#include "image/binner.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tests/bench/rendering_bound.h"

#include <stddef.h>
#include <string.h>

/* As alidade solve bins. */
static const long most_plane_pixels = 8000000;

/* Positions in the catalogue are rounded to 0.0001 degrees in right ascension and declination. */
static const double rounding_deg = 0.0001;

enum kind { SINGLE, NARROW, STACK, CLOUDED, CAPPED, KINDS };
static const char *const kind_name[KINDS] = {"single exposures, blind",
                                             "2.5-4 deg, focal length to 10 %", "stacks, 8 bits",
                                             "behind clouds: no answer", "lens cap on: no answer"};
static const char *const kind_key[KINDS] = {"blind", "narrow", "stack", "clouded", "capped"};

enum { BINS = 6 };
static const double bin_edge[BINS + 1] = {2.5, 4, 6.3, 10, 16, 25, 40.01};

struct outcome {
    enum kind kind;
    double width_deg;
    bool solved, right;
    int detected, listed, matched, strange; /* strange: pairs whose star is not in the picture */
    double centre_error, scale_error, chance_log10;
    double rms_px, allowed_px; /* of the pairs whose bound is known */
    double typical;            /* median of the residuals over what is allowed, see below */
    double wcs_px;             /* rms difference from the truth over the picture */
    double cpu_ms;             /* detect, match and fit */
};

struct run {
    int first;
    const struct bench_sky *sky;
    const struct nebulae *nebulae;
    struct outcome *outcome;
};

/* Of 20 frames 14 are single exposures 4-40 deg wide and 3 narrower; the rest varies. */
static enum kind kind_of(int number)
{
    int place = number % 20;
    return place < 14         ? SINGLE
           : place < 17       ? NARROW
           : place < 19       ? STACK
           : number % 40 < 20 ? CLOUDED
                              : CAPPED;
}

static void set_weather(struct render_options *o, struct random *r)
{
    o->light.moon_glow = random_between(r, 0, 0.5);
    o->light.moon_angle_deg = random_between(r, -180, 180);
    o->light.vignetting = random_between(r, 0.1, 0.5);
    o->light.cloud = random_uniform(r) < 0.2 ? random_between(r, 0, 0.5) : 0;
    o->light.foreground = random_uniform(r) < 0.1 ? random_between(r, 0, 0.25) : 0;
    o->light.seed = random_bits(r);
    o->sensor.hot_share = bench_log_between(r, 2e-6, 5e-5);
    o->sensor.seed = random_bits(r);
}

static struct render_options make_options(struct random *r, enum kind kind)
{
    struct render_options o = render_options_typical();
    bool narrow = kind == NARROW;
    double width = bench_log_between(r, narrow ? 2.5 : 4, narrow ? 4 : 40), v[3];
    o.camera = bench_camera(r, width);
    o.lens = bench_lens(r, &o.camera);
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    o.up_angle_deg = random_between(r, 0, 360);
    set_weather(&o, r);
    if (kind == STACK) {
        o.camera.stacked = (int)bench_log_between(r, 20, 400);
        o.tracked = true;
    } else if (kind == CLOUDED) {
        /* As bright a sky, and the stars 15 magnitudes fainter. */
        o.camera.throughput *= 1e-6;
        o.camera.sky_mag -= 15;
    } else if (kind == CAPPED) {
        o.camera.throughput *= 1e-12;
    }
    o.seed = random_bits(r);
    return o;
}

/* What reading the rendering's file would give: the pixels of one exposure as they are, a stack in
 * 8 bits. */
static void make_frame(struct frame *frame, const struct rendering *rendering)
{
    const struct frame_options how = {.max_plane_pixels = most_plane_pixels};
    struct binner binner;
    struct error err = {0};
    int width = rendering->width;
    bool stack = rendering->options.camera.stacked > 1;
    size_t pixels = (size_t)width * (size_t)rendering->height;
    unsigned char *bytes = bench_calloc(stack ? pixels : 1, 1);
    *frame = (struct frame){.format = "FITS"};
    if (stack) {
        rendering_to_bytes(bytes, rendering);
    }
    bench_require(
        binner_start(&binner, frame, width, rendering->height, ORIENT_AS_IS, 1, 16, &how, &err),
        &err);
    frame->luminance.full = stack ? 255 : SENSOR_WHITE;
    for (int y = 0; y < rendering->height; y++) {
        float *line = binner_line(&binner);
        for (int x = 0; x < width; x++) {
            size_t at = (size_t)y * (size_t)width + (size_t)x;
            line[x] = stack ? (float)bytes[at] : rendering->adu[at];
        }
        binner_add(&binner);
    }
    binner_free(&binner);
    free(bytes);
}

/* ---- what the residuals should be ---- */

/* Variance of x plus that of y: photons and readout, and the catalogue's rounding. px^2 */
static double allowed_variance(const struct rendering_bound *b, const struct render_star *star)
{
    const struct render_options *o = &b->rendering->options;
    double ra, dec, rounding = rounding_deg * 3600 / o->lens.scale_arcsec;
    wcs_radec(&ra, &dec, &b->rendering->truth, star->x, star->y);
    double east = cos(dec * RAD_PER_DEG);
    return rendering_bound_variance(b, star) + rounding * rounding / 12 * (1 + east * east);
}

static int by_hip(const void *a, const void *b)
{
    const struct render_star *s = a, *t = b;
    return s->hip < t->hip ? -1 : s->hip > t->hip;
}

/* The stars of the rendering that the catalogue lists, by number. */
static struct render_star *listed_stars(const struct rendering *rendering, int *count)
{
    struct render_star *star = bench_calloc((size_t)rendering->stars, sizeof *star);
    *count = 0;
    for (int i = 0; i < rendering->stars; i++) {
        if (rendering->star[i].hip) {
            star[(*count)++] = rendering->star[i];
        }
    }
    qsort(star, (size_t)*count, sizeof *star, by_hip);
    return star;
}

/* Compares the residuals of all pairs with what is allowed. The square of a two-dimensional normal
 * residual has a median of ln 2 times its mean. */
static void judge_residuals(struct outcome *out, const struct solution *solution,
                            const struct rendering_bound *bounds, const struct index *index)
{
    int stars, used = 0;
    struct render_star *star = listed_stars(bounds->rendering, &stars);
    double *share = bench_calloc((size_t)solution->matched, sizeof *share), sum = 0, allowed = 0;
    for (int i = 0; i < solution->matched; i++) {
        const struct match_pair *pair = &solution->pair[i];
        struct render_star wanted = {.hip =
                                         (uint32_t)index_number(index, (uint32_t)pair->catalogue)};
        const struct render_star *found =
            bsearch(&wanted, star, (size_t)stars, sizeof *star, by_hip);
        double variance = found ? allowed_variance(bounds, found) : (double)INFINITY;
        out->strange += !found;
        if (isfinite(variance)) {
            double square = pair->dx * pair->dx + pair->dy * pair->dy;
            share[used++] = square / variance;
            sum += square;
            allowed += variance;
        }
    }
    out->listed = stars;
    out->rms_px = sqrt(sum / used);
    out->allowed_px = sqrt(allowed / used);
    out->typical = sqrt(bench_quantile(share, used, 0.5) / log(2));
    free(share);
    free(star);
}

static double wcs_difference(const struct wcs *found, const struct wcs *truth)
{
    double sum = 0;
    int used = 0;
    for (int j = 0; j <= 8; j++) {
        for (int i = 0; i <= 12; i++) {
            double v[3], x = i / 12.0 * (truth->width - 1), y = j / 8.0 * (truth->height - 1), px,
                         py;
            wcs_direction(v, truth, x, y);
            if (wcs_pixel(&px, &py, found, v)) {
                sum += (px - x) * (px - x) + (py - y) * (py - y);
                used++;
            }
        }
    }
    return sqrt(sum / used);
}

static void judge(struct outcome *out, const struct solution *solution,
                  const struct rendering *rendering, const struct index *index)
{
    struct rendering_bound bounds = {0};
    bench_errors(&out->centre_error, &out->scale_error, &solution->wcs, &rendering->truth);
    out->right = bench_is_right(&solution->wcs, &rendering->truth);
    out->wcs_px = wcs_difference(&solution->wcs, &rendering->truth);
    rendering_bound_start(&bounds, rendering);
    judge_residuals(out, solution, &bounds, index);
    rendering_bound_end(&bounds);
}

static void solve_rendering(struct outcome *out, const struct rendering *rendering,
                            const struct solve_options *options, const struct index *index)
{
    struct frame frame;
    struct solution solution = {0};
    struct star_list list = {0};
    struct solve_times times;
    struct error err = {0};
    make_frame(&frame, rendering);
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(solve_frame(&solution, &list, &times, &frame, index, options, &err), &err);
    out->cpu_ms = bench_ms(CLOCK_THREAD_CPUTIME_ID) - start;
    out->detected = solution.detected;
    out->matched = solution.matched;
    out->chance_log10 = solution.chance_log10;
    out->solved = solution.solved;
    if (solution.solved) {
        judge(out, &solution, rendering, index);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
}

static void try_frame(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    int number = run->first + item;
    struct random random = {bench_seed(2000, (unsigned)number)};
    struct rendering rendering;
    struct error err = {0};
    out->kind = kind_of(number);
    struct render_options options = make_options(&random, out->kind);
    bench_require(render(&rendering, &run->sky->field, run->nebulae, &options, &err), &err);
    double height;
    wcs_field(&rendering.truth, &out->width_deg, &height);
    struct solve_options hint = {0};
    if (out->kind == NARROW) {
        hint.scale_arcsec = options.lens.scale_arcsec / random_between(&random, 0.9, 1.1);
        hint.scale_tolerance = 0.1;
    }
    solve_rendering(out, &rendering, &hint, &run->sky->index.index);
    rendering_free(&rendering);
}

/* ---- report ---- */

static void note(const char *file, enum kind kind, const char *what, double value)
{
    char key[80];
    snprintf(key, sizeof key, "frames.%s.%s", kind_key[kind], what);
    bench_note(file, key, value);
}

static bool has_answer(enum kind kind)
{
    return kind <= STACK;
}

static int bin_of(double width)
{
    int bin = 0;
    while (bin < BINS - 1 && width >= bin_edge[bin + 1]) {
        bin++;
    }
    return bin;
}

/* Returns how many were answered wrongly. */
static int report_solved(const struct outcome *outcome, int frames, enum kind kind,
                         const char *numbers)
{
    int all = 0, right = 0, wrong = 0, in_bin[BINS] = {0}, right_in_bin[BINS] = {0};
    for (int i = 0; i < frames; i++) {
        const struct outcome *o = &outcome[i];
        if (o->kind == kind) {
            all++;
            right += o->right;
            wrong += o->solved && (!has_answer(kind) || o->centre_error > 0.05);
            in_bin[bin_of(o->width_deg)]++;
            right_in_bin[bin_of(o->width_deg)] += o->right;
        }
    }
    printf("%-32s %6d", kind_name[kind], all);
    for (int b = 0; b < BINS; b++) {
        if (in_bin[b] && has_answer(kind)) {
            printf(" %6.1f", 100.0 * right_in_bin[b] / in_bin[b]);
        } else {
            printf("      -");
        }
    }
    if (has_answer(kind) && all) {
        printf(" %6.1f %6d\n", 100.0 * right / all, wrong);
        note(numbers, kind, "right_percent", 100.0 * right / all);
    } else {
        printf("      - %6d\n", wrong);
    }
    note(numbers, kind, "frames", all);
    note(numbers, kind, "wrong", wrong);
    return wrong;
}

/* One figure of each right frame of a kind, in a list to be freed. */
static double *gather(const struct outcome *outcome, int frames, enum kind kind, size_t offset,
                      int *count)
{
    double *value = bench_calloc((size_t)frames, sizeof *value);
    *count = 0;
    for (int i = 0; i < frames; i++) {
        if (outcome[i].kind == kind && outcome[i].right) {
            memcpy(&value[(*count)++], (const char *)&outcome[i] + offset, sizeof *value);
        }
    }
    return value;
}

static void report_spread(const struct outcome *outcome, int frames, enum kind kind,
                          const char *text, const char *key, size_t offset, const char *numbers)
{
    char name[80];
    int count;
    double *value = gather(outcome, frames, kind, offset, &count);
    double median = bench_quantile(value, count, 0.5), late = bench_quantile(value, count, 0.95);
    printf("  %-58s %8.3f %8.3f\n", text, median, late);
    snprintf(name, sizeof name, "%s_median", key);
    note(numbers, kind, name, median);
    snprintf(name, sizeof name, "%s_95", key);
    note(numbers, kind, name, late);
    free(value);
}

#define SPREAD(text, member)                                                                       \
    report_spread(outcome, frames, kind, text, #member, offsetof(struct outcome, member), numbers)

/* The ratio of two sums over all frames says what a user gets; its median what a frame gets. */
static void report_fit(struct outcome *outcome, int frames, enum kind kind, const char *numbers)
{
    double *ratio = bench_calloc((size_t)frames, sizeof *ratio);
    int count = 0;
    for (int i = 0; i < frames; i++) {
        if (outcome[i].kind == kind && outcome[i].right) {
            ratio[count++] = outcome[i].rms_px / outcome[i].allowed_px;
        }
    }
    if (count == 0) {
        free(ratio);
        return;
    }
    printf("\n%-60s %8s %8s\n", kind_name[kind], "median", "95 %");
    double median = bench_quantile(ratio, count, 0.5);
    printf("  %-58s %8.3f %8.3f\n", "rms residual over that allowed", median,
           bench_quantile(ratio, count, 0.95));
    note(numbers, kind, "residual_over_allowed", median);
    SPREAD("median residual over that allowed", typical);
    SPREAD("rms residual, px", rms_px);
    SPREAD("allowed by photons, readout and catalogue, px", allowed_px);
    SPREAD("rms difference of the WCS from the truth, px", wcs_px);
    SPREAD("all but reading, ms of processor time", cpu_ms);
    free(ratio);
}

static const char *fault(const struct outcome *o)
{
    if (!o->solved) {
        return has_answer(o->kind) ? "no answer" : NULL;
    }
    if (!has_answer(o->kind) || o->centre_error > 0.05) {
        return "WRONG";
    }
    return !o->right ? "inexact" : o->strange > 0.01 * o->matched ? "strange pairs" : NULL;
}

static void print_failed(const struct outcome *outcome, int frames, int first)
{
    for (int i = 0; i < frames; i++) {
        const struct outcome *o = &outcome[i];
        if (!fault(o)) {
            continue;
        }
        printf("  %s --first %d --frames 1: %s, %.2f deg, %d stars detected, best chance 1e%.1f",
               fault(o), first + i, kind_name[o->kind], o->width_deg, o->detected, o->chance_log10);
        if (o->solved) {
            printf(", %d pairs, %d of stars not in the picture, rms %.2f px, centre off by %.2g %%",
                   o->matched, o->strange, o->rms_px, 100 * o->centre_error);
        }
        printf("\n");
    }
}

static void report_strange(const struct outcome *outcome, int frames, const char *numbers)
{
    int pairs = 0, strange = 0;
    for (int i = 0; i < frames; i++) {
        pairs += outcome[i].right ? outcome[i].matched : 0;
        strange += outcome[i].right ? outcome[i].strange : 0;
    }
    printf("%d pairs in frames solved rightly, %d of them with stars not in the picture\n", pairs,
           strange);
    bench_note(numbers, "frames.strange_percent", pairs ? 100.0 * strange / pairs : 0);
}

static void report(struct outcome *outcome, int frames, const char *numbers)
{
    int wrong = 0;
    printf("Share solved rightly, %%, by width in degrees\n%-32s %6s %6s %6s %6s %6s %6s %6s %6s "
           "%6s\n",
           "", "frames", "2.5-4", "-6.3", "-10", "-16", "-25", "-40", "all", "wrong");
    for (int kind = 0; kind < KINDS; kind++) {
        wrong += report_solved(outcome, frames, (enum kind)kind, numbers);
    }
    bench_note(numbers, "frames.wrong", wrong);
    report_strange(outcome, frames, numbers);
    for (int kind = 0; kind <= STACK; kind++) {
        report_fit(outcome, frames, (enum kind)kind, numbers);
    }
}

struct settings {
    const char *index, *numbers;
    bool quick;
    int frames, first, threads;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"quick", 0, OPTION_FLAG, NULL, "40 frames.", AT(quick), 0, 0, false, NULL, NULL},
    {"frames", 0, OPTION_INTEGER, "N", "Default 1000.", AT(frames), 1, 1000000, false, NULL, NULL},
    BENCH_FIRST_OPTION,
    {"threads", 0, OPTION_INTEGER, "N", "Default: one a processor. 400 MB each.", AT(threads), 1,
     256, false, NULL, NULL},
    BENCH_NUMBERS_OPTION,
    {0}};

/* The sky itself is not rounded: each listed star is somewhere in the box that rounds to its place.
 */
static void unround(struct starfield *field)
{
    struct random random = {1};
    for (int i = 0; i < field->count; i++) {
        double ra, dec;
        vector_to_radec(&ra, &dec, field->star[i].v);
        ra += rounding_deg * random_between(&random, -0.5, 0.5);
        dec += rounding_deg * random_between(&random, -0.5, 0.5);
        vector_from_radec(field->star[i].v, ra, dec);
    }
}

int main(int argc, char **argv)
{
    struct settings settings = {
        .index = "build/hipparcos.alidx", .frames = 1000, .threads = parallel_processors()};
    struct bench_sky sky = {0};
    struct nebulae nebulae = {0};
    struct error err = {0};
    if (!bench_start(&settings, rows, argc, argv, "frames [options]")) {
        return 0;
    }
    int frames = settings.quick ? 40 : settings.frames;
    bench_sky_load(&sky, settings.index);
    unround(&sky.field);
    bench_require(nebulae_load(&nebulae, "catalogs/objects.tsv", &err), &err);
    struct run run = {.first = settings.first,
                      .sky = &sky,
                      .nebulae = &nebulae,
                      .outcome = bench_calloc((size_t)frames, sizeof *run.outcome)};
    parallel_each(frames, settings.threads, try_frame, &run);
    report(run.outcome, frames, settings.numbers);
    print_failed(run.outcome, frames, settings.first);
    free(run.outcome);
    nebulae_free(&nebulae);
    bench_sky_free(&sky);
    return 0;
}
