/* tests/bench/trails.c: long exposures from a tripod, on which stars are arcs: how many are solved,
 * how many wrongly, and whether the time that their arcs show is the exposure. */
#include "base/parallel.h"
#include "demo/render.h"
#include "match/solve.h"
#include "stars/stars.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>
#include <string.h>

struct outcome {
    bool solved, right;
    double exposure_s, shown_s; /* by the clock, and by the arcs; NAN: not said */
    double wide_deg, pole_deg;  /* width of the field, and how far its middle is from a pole */
    double longest_px;          /* an arc of the equator */
    double off;                 /* of the middle, as a share of the width */
    int detected, matched;
    double detect_ms, ms;
    char words[200];
};

struct run {
    int first, least_s;
    const struct bench_sky *sky;
    struct outcome *outcome;
};

/* A wide lens on a full frame, in a picture of two megapixels; half of the pictures hold a pole or
 * look near it, since that is what trails are taken of. The gain is what leaves the sky at a tenth
 * to a third of the scale. */
static void choose(struct render_options *o, struct outcome *out, struct random *r, double least_s)
{
    *o = render_options_typical();
    out->exposure_s = o->camera.exposure_s = bench_log_between(r, least_s, 3600);
    out->wide_deg = bench_log_between(r, 12, 85);
    o->lens.width = 1800;
    o->lens.height = 1200;
    o->camera.pixel_um = 20;
    o->camera.focal_mm = 18 / tan(out->wide_deg / 2 * RAD_PER_DEG);
    o->camera.f_number = bench_log_between(r, 2.8, 8);
    o->camera.sky_mag = random_between(r, 18.5, 21);
    o->camera.fwhm_px = random_between(r, 1.8, 3);
    o->lens.distortion = 0.01 * random_normal(r);
    o->lens.axis_x = 0.005 * 1800 * random_normal(r);
    o->lens.axis_y = 0.005 * 1800 * random_normal(r);
    o->sensor.e_per_adu =
        fmax(camera_sky_e(&o->camera) / (random_between(r, 0.1, 0.33) * SENSOR_WHITE), 0.1);
    o->sensor.seed = random_bits(r);
    o->seed = random_bits(r);
    out->pole_deg =
        random_uniform(r) < 0.5 ? random_between(r, 0, 40) : acos(random_uniform(r)) * DEG_PER_RAD;
    o->dec_deg = (90 - out->pole_deg) * (random_uniform(r) < 0.5 ? -1 : 1);
    o->ra_deg = random_between(r, 0, 360);
    o->up_angle_deg = random_between(r, 0, 360);
    out->longest_px = camera_trail_px(&o->camera, 0);
}

/* As a file of 8 bits has it. */
static void make_bytes(struct frame *frame, const struct rendering *rendering)
{
    size_t pixels = (size_t)rendering->width * (size_t)rendering->height;
    unsigned char *bytes = bench_calloc(pixels, 1);
    rendering_to_bytes(bytes, rendering);
    for (size_t i = 0; i < pixels; i++) {
        frame->luminance.value[i] = bytes[i];
    }
    frame->luminance.full = 255;
    free(bytes);
}

static void attempt(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(1400, (unsigned)(run->first + item))};
    struct render_options options;
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    struct error err = {0};
    const struct solve_options nothing = {.threads = 1};
    choose(&options, out, &random, run->least_s);
    bench_require(render(&rendering, &run->sky->field, NULL, &options, &err), &err);
    bench_require(rendering_to_frame(&frame, &rendering, &err), &err);
    if (random_uniform(&random) < 0.5) {
        make_bytes(&frame, &rendering);
    }
    bench_require(
        solve_frame(&solution, &list, &times, &frame, &run->sky->index.index, &nothing, &err),
        &err);
    out->solved = solution.solved;
    out->matched = solution.matched;
    out->detected = list.count;
    out->detect_ms = times.detect_ms;
    out->ms = times.match_ms + times.fit_ms;
    out->shown_s = solution.solved && solution.trails_s > 0 ? solution.trails_s : (double)NAN;
    if (solution.solved) {
        double scale;
        bench_errors(&out->off, &scale, &solution.wcs, &rendering.truth);
        out->right = bench_is_right(&solution.wcs, &rendering.truth);
    }
    snprintf(out->words, sizeof out->words, "%s", solution.why);
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    rendering_free(&rendering);
}

static void report(const struct outcome *outcome, int count, const char *numbers)
{
    int right = 0, wrong = 0, timed = 0, mistimed = 0;
    double *detect = bench_calloc((size_t)count, sizeof *detect);
    double *ms = bench_calloc((size_t)count, sizeof *ms);
    for (int i = 0; i < count; i++) {
        const struct outcome *o = &outcome[i];
        right += o->right;
        wrong += o->solved && !o->right;
        timed += isfinite(o->shown_s);
        mistimed += isfinite(o->shown_s) && fabs(o->shown_s / o->exposure_s - 1) > 0.05;
        detect[i] = o->detect_ms;
        ms[i] = o->ms;
    }
    printf("%d trails of 2 to 60 min: %.1f %% right, %d wrong; exposure said of %d, off by 5 %% of "
           "%d; detection %.0f ms, matching and fitting %.0f ms, 99 %% %.0f ms\n",
           count, 100.0 * right / count, wrong, timed, mistimed, bench_quantile(detect, count, 0.5),
           bench_quantile(ms, count, 0.5), bench_quantile(ms, count, 0.99));
    bench_note(numbers, "trails.right_percent", 100.0 * right / count);
    bench_note(numbers, "trails.wrong", wrong);
    bench_note(numbers, "trails.mistimed_percent", 100.0 * mistimed / fmax(timed, 1));
    free(detect);
    free(ms);
}

struct settings {
    const char *index, *numbers;
    int pictures, first, threads, least;
    bool list;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"pictures", 0, OPTION_INTEGER, "N", "Default 200.", AT(pictures), 1, 100000, false, NULL,
     NULL},
    {"first", 0, OPTION_INTEGER, "N", "Begin with this one (default 0).", AT(first), 0, 1000000000,
     false, NULL, NULL},
    {"least", 0, OPTION_INTEGER, "S", "Exposures of S seconds and more (default 120).", AT(least),
     10, 3600, false, NULL, NULL},
    {"list", 0, OPTION_FLAG, NULL, "Name each picture.", AT(list), 0, 0, false, NULL, NULL},
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx",
                                .pictures = 200,
                                .least = 120,
                                .threads = parallel_processors()};
    struct bench_sky sky = {0};
    if (!bench_start(&settings, rows, argc, argv, "trails [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    struct run run = {settings.first, settings.least, &sky,
                      bench_calloc((size_t)settings.pictures, sizeof *run.outcome)};
    parallel_each(settings.pictures, settings.threads, attempt, &run);
    for (int i = 0; settings.list && i < settings.pictures; i++) {
        const struct outcome *o = &run.outcome[i];
        printf(
            "  --first %d: %.0f s%s, %.0f deg, %.0f from a pole, %.0f px, %s, %d of %d, off %.4f, "
            "%.0f + %.0f ms %s\n",
            settings.first + i, o->exposure_s, isfinite(o->shown_s) ? " said" : "", o->wide_deg,
            o->pole_deg, o->longest_px, o->solved ? o->right ? "right" : "WRONG" : "unsolved",
            o->matched, o->detected, o->off, o->detect_ms, o->ms, o->solved ? "" : o->words);
    }
    report(run.outcome, settings.pictures, settings.numbers);
    free(run.outcome);
    bench_sky_free(&sky);
    return 0;
}
