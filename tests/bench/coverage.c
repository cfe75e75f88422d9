/* tests/bench/coverage.c: whether stated errors hold: how often the truth of a rendered frame lies
 * within one of them, and within what holds 95 % of a normal distribution, by decades of the stars
 * that were matched. Lenses have two radial terms and an axis off the middle. */
#include "base/parallel.h"
#include "demo/render.h"
#include "demo/render_brush.h"
#include "health/health.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tripod/advice_error.h"

#include <stddef.h>
#include <string.h>

enum { WIDTH = 1800, HEIGHT = 1200, DECADES = 3 };

/* 10 to 99 stars matched, 100 to 999, more; what has less is of the first. */
static const char *const decade_name[DECADES] = {"up to 99", "to 999", "more"};

enum figure {
    MIDDLE_X,
    MIDDLE_Y,
    CORNER,
    CELL,
    SCALE,
    ANGLE,
    PAN,
    TILT,
    STAYS,
    SMEAR,
    FWHM,
    TRAIL,
    SKY,
    LIMIT,
    ZERO,
    FIGURES
};
static const char *const figure_name[FIGURES] = {
    "middle, x", "middle, y", "cells of corners", "all cells", "scale",          "angle",
    "pan",       "tilt",      "stays in",         "smear",     "width of stars", "trail",
    "sky",       "limit",     "zero point"};
static const char *const figure_key[FIGURES] = {"middle_x", "middle_y", "corner", "cell",  "scale",
                                                "angle",    "pan",      "tilt",   "stays", "smear",
                                                "fwhm",     "trail",    "sky",    "limit", "zero"};

/* Of each figure how many values there were, and how many of them within one error and 1.96. */
struct tally {
    int count, one, two;
};

struct outcome {
    bool solved;
    int matched;
    struct tally tally[FIGURES];
    double last[FIGURES]; /* in errors */
};

struct run {
    int first;
    const struct bench_sky *sky;
    struct outcome *outcome;
};

static struct render_options choose(struct random *r)
{
    struct render_options o = render_options_typical();
    double v[3], wide = bench_log_between(r, 4, 60) * RAD_PER_DEG;
    o.lens.width = WIDTH;
    o.lens.height = HEIGHT;
    o.camera.pixel_um = 13;
    o.camera.focal_mm = WIDTH * o.camera.pixel_um / 1000 / (2 * tan(wide / 2));
    o.camera.f_number = bench_log_between(r, 1.8, 5.6);
    o.camera.sky_mag = random_between(r, 18, 21);
    o.camera.fwhm_px = random_between(r, 2, 3.5);
    o.lens.distortion = 0.01 * random_normal(r);
    o.lens.moustache = 0.003 * random_normal(r);
    o.lens.axis_x = 0.005 * WIDTH * random_normal(r);
    o.lens.axis_y = 0.005 * WIDTH * random_normal(r);
    o.corner_blur = 0; /* else the width differs all over the picture */
    o.light.vignetting = random_between(r, 0, 0.4);
    o.sensor.seed = random_bits(r);
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    o.up_angle_deg = random_between(r, 0, 360);
    o.tracked = random_uniform(r) < 0.3;
    double px_s = 15.041 / camera_scale_arcsec(&o.camera);
    o.camera.exposure_s =
        o.tracked ? bench_log_between(r, 5, 60) : fmin(8, bench_log_between(r, 0.5, 6) / px_s);
    o.seed = random_bits(r);
    return o;
}

static void note(struct outcome *out, enum figure figure, double off, double error)
{
    struct tally *t = &out->tally[figure];
    if (!isfinite(off) || !isfinite(error)) {
        return;
    }
    t->count++;
    t->one += fabs(off) <= error;
    t->two += fabs(off) <= 1.96 * error;
    out->last[figure] = off / error;
}

/* Where the answer has what is truly at a place. */
static bool off_at(double off[2], const struct wcs *found, const struct wcs *truth, double x,
                   double y)
{
    double v[3], at_x, at_y;
    wcs_direction(v, truth, x, y);
    bool there = wcs_pixel(&at_x, &at_y, found, v);
    off[0] = there ? at_x - x : (double)NAN;
    off[1] = there ? at_y - y : (double)NAN;
    return there;
}

static void compare_places(struct outcome *out, const struct solution *solution,
                           const struct wcs *truth)
{
    double off[2];
    off_at(off, &solution->wcs, truth, 0.5 * (WIDTH - 1), 0.5 * (HEIGHT - 1));
    note(out, MIDDLE_X, off[0], solution->middle_error_px);
    note(out, MIDDLE_Y, off[1], solution->middle_error_px);
    for (int i = 0; i < SOLUTION_CELLS; i++) {
        int column = i % SOLUTION_COLUMNS, row = i / SOLUTION_COLUMNS;
        bool corner = (column == 0 || column == SOLUTION_COLUMNS - 1) &&
                      (row == 0 || row == SOLUTION_ROWS - 1);
        off_at(off, &solution->wcs, truth, (column + 0.5) / SOLUTION_COLUMNS * WIDTH - 0.5,
               (row + 0.5) / SOLUTION_ROWS * HEIGHT - 0.5);
        for (int k = 0; k < 2; k++) {
            note(out, CELL, off[k], solution->cell_error_px[i]);
            note(out, CORNER, corner ? off[k] : (double)NAN, solution->cell_error_px[i]);
        }
    }
    double scale = wcs_scale_arcsec(&solution->wcs) / wcs_scale_arcsec(truth) - 1;
    double ra, dec,
        angle = angle_wrap_180(wcs_up_angle_deg(&solution->wcs) - wcs_up_angle_deg(truth));
    wcs_centre(truth, &ra, &dec);
    double middle_deg = solution->middle_error_px * wcs_scale_arcsec(truth) / 3600;
    note(out, SCALE, scale, solution->scale_error);
    note(out, ANGLE, angle, hypot(solution->turn_error_deg, middle_deg * tan(dec * RAD_PER_DEG)));
}

/* A target somewhere in the picture, by the answer and by the truth, without a place. */
static void compare_advice(struct outcome *out, const struct solution *solution,
                           const struct wcs *truth, struct random *r)
{
    const struct advice_wish wish = {.smear_px = 2};
    const struct advice_doubt doubt = {.middle_deg = solution->middle_error_px *
                                                     wcs_scale_arcsec(truth) / 3600,
                                       .turn_deg = solution->turn_error_deg,
                                       .scale = solution->scale_error};
    struct ground ground = {.utc = {2461000.5, 0}};
    struct stand said, is;
    struct aim_target target = {0};
    struct advice advice, true_advice;
    struct advice_error error;
    double ra, dec;
    wcs_radec(&ra, &dec, truth, random_between(r, 0.1, 0.9) * WIDTH,
              random_between(r, 0.1, 0.9) * HEIGHT);
    aim_target_radec(&target, ra, dec);
    ground_make(&ground, NULL, ground.utc);
    stand_make(&said, &solution->wcs, &ground);
    stand_make(&is, truth, &ground);
    advice_find(&advice, &said, NULL, &target, &wish);
    advice_find(&true_advice, &is, NULL, &target, &wish);
    if (!advice_error_find(&error, &advice, &said, NULL, &target, &wish, &doubt)) {
        return;
    }
    note(out, PAN, advice.move.pan_deg - true_advice.move.pan_deg, error.pan_deg);
    note(out, TILT, advice.move.tilt_deg - true_advice.move.tilt_deg, error.tilt_deg);
    if (advice.now.changes && true_advice.now.changes) {
        note(out, STAYS, advice.now.change_s - true_advice.now.change_s, error.now_s);
    }
    note(out, SMEAR, advice.smear_s[0] - true_advice.smear_s[0], error.smear_s[0]);
}

static void compare_health(struct outcome *out, const struct frame_health *h,
                           const struct render_options *o, const struct rendering *rendering)
{
    const struct wcs *truth = &rendering->truth;
    double ra, dec, drawn = o->tracked ? 0 : camera_trail_px(&o->camera, o->dec_deg);
    wcs_radec(&ra, &dec, truth, truth->width / 2.0, truth->height / 2.0);
    double trail = o->tracked ? 0
                              : 15.041 * o->camera.exposure_s * cos(dec * RAD_PER_DEG) /
                                    wcs_scale_arcsec(truth);
    double zero =
        2.5 * log10(camera_star_e(&o->camera, 0) / o->camera.exposure_s / o->sensor.e_per_adu);
    note(out, FWHM, h->fwhm_px - brush_drawn_fwhm(o->camera.fwhm_px), h->fwhm_error_px);
    note(out, TRAIL, trail > 1 ? h->trail_px - trail : (double)NAN, h->trail_error_px);
    note(out, ZERO, h->zero_mag - zero, h->zero_error);
    note(out, LIMIT, h->limit_mag - camera_limit_mag(&o->camera, 5, drawn), h->limit_error);
    note(out, SKY, h->sky_mag - o->camera.sky_mag, h->sky_mag_error);
}

static void attempt(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(1500, (unsigned)(run->first + item))};
    struct render_options o = choose(&random);
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    struct frame_health health;
    const struct solve_options nothing = {0};
    const struct index *index = &run->sky->index.index;
    struct error err = {0};
    bench_require(render(&rendering, &run->sky->field, NULL, &o, &err), &err);
    bench_require(rendering_to_frame(&frame, &rendering, &err), &err);
    bench_require(solve_frame(&solution, &list, &times, &frame, index, &nothing, &err), &err);
    out->solved = solution.solved && bench_is_right(&solution.wcs, &rendering.truth);
    if (out->solved) {
        const struct health_input input = {&frame, &list, &solution,
                                           index,  true,  o.sensor.black_adu};
        out->matched = solution.matched;
        bench_require(health_measure(&health, &input, NULL, &err), &err);
        compare_places(out, &solution, &rendering.truth);
        compare_advice(out, &solution, &rendering.truth, &random);
        compare_health(out, &health, &o, &rendering);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    rendering_free(&rendering);
}

static int decade_of(int matched)
{
    return matched < 100 ? 0 : matched < 1000 ? 1 : 2;
}

static struct tally sum_up(const struct outcome *outcome, int frames, enum figure figure,
                           int decade)
{
    struct tally sum = {0};
    for (int i = 0; i < frames; i++) {
        const struct tally *t = &outcome[i].tally[figure];
        if (outcome[i].solved && (decade < 0 || decade_of(outcome[i].matched) == decade)) {
            sum.count += t->count;
            sum.one += t->one;
            sum.two += t->two;
        }
    }
    return sum;
}

/* Least and most of the shares in rows with values enough to tell. */
struct extremes {
    double least[2], most[2];
};

static void print_share(const struct tally *t)
{
    if (t->count > 0) {
        printf("  %6d %5.1f %5.1f", t->count, 100.0 * t->one / t->count, 100.0 * t->two / t->count);
    } else {
        printf("  %6s %5s %5s", "-", "", "");
    }
}

static void report(const struct outcome *outcome, int frames, const char *numbers)
{
    enum { ENOUGH = 30 };
    struct extremes e = {{100, 100}, {0, 0}};
    printf("%-18s  %-18s", "within 1, 1.96", "all");
    for (int decade = 0; decade < DECADES; decade++) {
        printf("  %-18s", decade_name[decade]);
    }
    printf("\n");
    for (int figure = 0; figure < FIGURES; figure++) {
        printf("%-18s", figure_name[figure]);
        for (int decade = -1; decade < DECADES; decade++) {
            struct tally t = sum_up(outcome, frames, (enum figure)figure, decade);
            double one = 100.0 * t.one / fmax(t.count, 1), two = 100.0 * t.two / fmax(t.count, 1);
            char key[80];
            print_share(&t);
            if (t.count >= ENOUGH) {
                e.least[0] = fmin(e.least[0], one);
                e.most[0] = fmax(e.most[0], one);
                e.least[1] = fmin(e.least[1], two);
                e.most[1] = fmax(e.most[1], two);
            }
            if (decade < 0) {
                snprintf(key, sizeof key, "coverage.%s.68_percent", figure_key[figure]);
                bench_note(numbers, key, one);
                snprintf(key, sizeof key, "coverage.%s.95_percent", figure_key[figure]);
                bench_note(numbers, key, two);
            }
        }
        printf("\n");
    }
    bench_note(numbers, "coverage.68_least", e.least[0]);
    bench_note(numbers, "coverage.68_most", e.most[0]);
    bench_note(numbers, "coverage.95_least", e.least[1]);
    bench_note(numbers, "coverage.95_most", e.most[1]);
}

struct settings {
    const char *index, *numbers;
    int frames, first, threads;
    bool list;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"frames", 0, OPTION_INTEGER, "N", "Default 200.", AT(frames), 1, 100000, false, NULL, NULL},
    BENCH_FIRST_OPTION,
    BENCH_LIST_OPTION,
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {
        .index = "build/hipparcos.alidx", .frames = 200, .threads = parallel_processors()};
    struct bench_sky sky = {0};
    int solved = 0;
    if (!bench_start(&settings, rows, argc, argv, "coverage [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    struct run run = {settings.first, &sky,
                      bench_calloc((size_t)settings.frames, sizeof *run.outcome)};
    parallel_each(settings.frames, settings.threads, attempt, &run);
    for (int i = 0; i < settings.frames; i++) {
        const struct outcome *o = &run.outcome[i];
        solved += o->solved;
        if (settings.list) {
            printf("--first %d: %d matched", settings.first + i, o->matched);
            for (int figure = 0; figure < FIGURES; figure++) {
                printf(" %s %.2f", figure_key[figure], o->last[figure]);
            }
            printf("\n");
        }
    }
    printf("%d of %d frames solved\n", solved, settings.frames);
    report(run.outcome, settings.frames, settings.numbers);
    free(run.outcome);
    bench_sky_free(&sky);
    return 0;
}
