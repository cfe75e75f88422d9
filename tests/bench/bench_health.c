/* tests/bench/bench_health.c: whether good frames are called good, and how near the figures are to
 * the truth, over rendered frames from all over the sky. */
#include "base/parallel.h"
#include "demo/render.h"
#include "demo/render_brush.h"
#include "health/health.h"
#include "match/solve.h"
#include "stars/shape.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>
#include <string.h>

enum { WIDTH = 3000, HEIGHT = 2000 };

/* Errors of figures; NaN where the frame does not tell. */
struct outcome {
    bool solved;
    unsigned faults;
    double width, elongation, trail, zero, zero_in_errors, colour, limit, sky;
    double cpu_ms;
};

struct run {
    const struct bench_sky *sky;
    struct outcome *outcome;
};

/* A good frame: short exposures of a fixed camera, or longer ones that follow the sky. */
static struct render_options good_frame(struct random *r)
{
    struct render_options o = render_options_typical();
    double v[3];
    o.lens.width = WIDTH;
    o.lens.height = HEIGHT;
    o.camera.pixel_um = random_between(r, 4, 7);
    o.camera.focal_mm = bench_log_between(r, 35, 250);
    o.camera.f_number = bench_log_between(r, 1.8, 4);
    o.camera.sky_mag = random_between(r, 17.5, 21);
    o.camera.fwhm_px = random_between(r, 2.2, 3.6);
    o.lens.distortion = 0.01 * random_normal(r);
    o.light.vignetting = random_between(r, 0.1, 0.5);
    o.light.moon_glow = random_between(r, 0, 0.5);
    o.light.moon_angle_deg = random_between(r, -180, 180);
    o.sensor.hot_share = bench_log_between(r, 2e-6, 5e-5);
    o.sensor.seed = random_bits(r);
    o.corner_blur = random_between(r, 0, 0.4);
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    o.up_angle_deg = random_between(r, 0, 360);
    o.tracked = random_uniform(r) < 0.4;
    double px_s = 15.041 / camera_scale_arcsec(&o.camera);
    o.camera.exposure_s = o.tracked ? random_between(r, 5, 60) : random_between(r, 1, 2.6) / px_s;
    o.seed = random_bits(r);
    return o;
}

static void compare(struct outcome *out, const struct frame_health *h,
                    const struct render_options *o, const struct rendering *rendering)
{
    double trail;
    const struct wcs *truth = &rendering->truth;
    double scale = wcs_scale_arcsec(truth), ra, dec;
    wcs_radec(&ra, &dec, truth, truth->width / 2.0, truth->height / 2.0);
    trail = o->tracked ? 0 : 15.041 * o->camera.exposure_s * cos(dec * RAD_PER_DEG) / scale;
    double zero =
        2.5 * log10(camera_star_e(&o->camera, 0) / o->camera.exposure_s / o->sensor.e_per_adu);
    /* The middle, where the corners' blur is 6 % of itself in the median. */
    double fwhm = brush_drawn_fwhm(o->camera.fwhm_px * (1 + 0.08 * o->corner_blur));
    out->width = h->fwhm_middle_px / fwhm - 1;
    double sigma = h->fwhm_px / 2.3548;
    out->elongation = h->elongation / sqrt(1 + trail * trail / 12 / (sigma * sigma)) - 1;
    out->trail = trail > 1 ? h->trail_px - trail : (double)NAN;
    out->zero = h->zero_mag - zero;
    out->zero_in_errors = out->zero / h->zero_error;
    out->colour = h->colour_term - o->colour_term;
    double drawn = o->tracked ? 0 : camera_trail_px(&o->camera, o->dec_deg);
    out->limit = h->limit_mag - camera_limit_mag(&o->camera, 5, drawn);
    out->sky = h->sky_mag - o->camera.sky_mag;
}

static void try_frame(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(7000, (unsigned)item)};
    struct render_options o = good_frame(&random);
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    struct frame_health health;
    const struct solve_options nothing = {0};
    struct error err = {0};
    const struct index *index = &run->sky->index.index;
    bench_require(render(&rendering, &run->sky->field, NULL, &o, &err), &err);
    bench_require(rendering_to_frame(&frame, &rendering, &err), &err);
    bench_require(solve_frame(&solution, &list, &times, &frame, index, &nothing, &err), &err);
    const struct health_input input = {&frame, &list, &solution, index, true, o.sensor.black_adu};
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(health_measure(&health, &input, NULL, &err), &err);
    out->cpu_ms = bench_ms(CLOCK_THREAD_CPUTIME_ID) - start;
    out->solved = solution.solved;
    out->faults = health.faults;
    compare(out, &health, &o, &rendering);
    if (health.faults) {
        char words[240];
        health_write_verdict(words, sizeof words, &health);
        printf("frame %d, %.0f mm, %.1f s, %s: %s\n", item, o.camera.focal_mm, o.camera.exposure_s,
               o.tracked ? "tracked" : "fixed", words);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    rendering_free(&rendering);
}

/* Of the size of one figure's errors: median, 95 %. */
static void report(const struct run *run, int frames, const char *text, const char *key,
                   size_t offset, const char *numbers)
{
    double *value = bench_calloc((size_t)frames, sizeof *value);
    char name[80];
    int n = 0;
    for (int i = 0; i < frames; i++) {
        double error;
        memcpy(&error, (const char *)&run->outcome[i] + offset, sizeof error);
        if (run->outcome[i].solved && isfinite(error)) {
            value[n++] = fabs(error);
        }
    }
    double median = bench_quantile(value, n, 0.5), late = bench_quantile(value, n, 0.95);
    printf("%-46s %5d %9.3f %9.3f\n", text, n, median, late);
    snprintf(name, sizeof name, "health.%s_95", key);
    bench_note(numbers, name, late);
    snprintf(name, sizeof name, "health.%s_median", key);
    bench_note(numbers, name, median);
    free(value);
}

#define REPORT(text, member)                                                                       \
    report(&run, frames, text, #member, offsetof(struct outcome, member), settings.numbers)

struct settings {
    const char *index, *numbers;
    int frames, threads;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"frames", 0, OPTION_INTEGER, "N", "Default 150.", AT(frames), 1, 1000000, false, NULL, NULL},
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {
        .index = "build/hipparcos.alidx", .frames = 150, .threads = parallel_processors()};
    struct bench_sky sky = {0};
    if (!bench_start(&settings, rows, argc, argv, "health [options]")) {
        return 0;
    }
    int frames = settings.frames, blamed = 0, solved = 0;
    bench_sky_load(&sky, settings.index);
    struct run run = {&sky, bench_calloc((size_t)frames, sizeof *run.outcome)};
    parallel_each(frames, settings.threads, try_frame, &run);
    for (int i = 0; i < frames; i++) {
        blamed += run.outcome[i].faults != 0;
        solved += run.outcome[i].solved;
    }
    printf("%d good frames, %d solved, %d called otherwise\n\n%-46s %5s %9s %9s\n", frames, solved,
           blamed, "size of the error", "of", "median", "95 %");
    REPORT("width of stars in the middle, share", width);
    REPORT("elongation, share", elongation);
    REPORT("length of trails, px", trail);
    REPORT("zero point, mag", zero);
    REPORT("zero point, stated errors", zero_in_errors);
    REPORT("colour term", colour);
    REPORT("limiting magnitude, mag", limit);
    REPORT("sky, mag a square arcsecond", sky);
    REPORT("time of judging, ms", cpu_ms);
    bench_note(settings.numbers, "health.good_frames", frames);
    bench_note(settings.numbers, "health.false_verdicts", blamed);
    free(run.outcome);
    bench_sky_free(&sky);
    return blamed > 0;
}
