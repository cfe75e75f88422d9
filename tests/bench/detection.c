/* tests/bench/detection.c: the star finder against SEP (Barbary 2016, JOSS 1, 58) on the same
 * planes: time, which stars are found, what is found that is none, and how exactly they are placed.
 *
 * SEP works twice: as its documentation advises, which is what the time is held against, and with
 * the best it can be told, the star's own shape as filter and the same least height in noises of
 * the filtered plane, which is what the rest is held against. */
#include "base/parallel.h"
#include "demo/render.h"
#include "image/binner.h"
#include "stars/stars.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tests/bench/rendering_bound.h"

#include <sep.h>
#include <stddef.h>
#include <string.h>

/* As alidade solve bins. */
static const long most_plane_pixels = 8000000;

enum detector { OURS, SEP_ADVISED, SEP_MATCHED, DETECTORS };
static const char *const detector_name[DETECTORS] = {"alidade", "SEP", "SEP, matched"};
static const char *const detector_key[DETECTORS] = {"own", "sep", "sep-matched"};

enum { BINS = 5, FINE = 14 };
static const double bin_edge[BINS + 1] = {3, 5, 8, 15, 50, 1e9};
static const double fine_first = 3, fine_step = 0.5; /* of signal to noise, for the 50 % */

/* Of one detector, summed over frames. */
struct tally {
    double found[BINS], there[BINS];
    double fine_found[FINE], fine_there[FINE];
    double false_ones;
    double ms;
    double *over_bound; /* errors of places over what photons allow, of stars above 10 */
    int errors;
};

struct spot {
    double x, y, flux;
};

struct found {
    struct spot *place;
    int count;
};

/* ---- the detectors: places in pixels of the picture ---- */

static void require_sep(int status)
{
    if (status) {
        char text[61];
        sep_get_errmsg(status, text);
        fprintf(stderr, "detection: sep: %s\n", text);
        exit(2);
    }
}

/* Works in place, on a copy of the plane that does not count. Returns what it took, ms. */
static double run_sep(struct found *found, const struct plane *plane, const float *filter, int side,
                      double sigmas, int least_area)
{
    size_t n = (size_t)plane->width * (size_t)plane->height;
    float *copy = bench_calloc(n, sizeof *copy);
    sep_bkg *background = NULL;
    sep_catalog *catalog = NULL;
    sep_image image = {.data = copy, .dtype = SEP_TFLOAT, .w = plane->width, .h = plane->height};
    memcpy(copy, plane->value, n * sizeof *copy);
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    sep_set_extract_pixstack(4000000);
    require_sep(sep_background(&image, 64, 64, 3, 3, 0, &background));
    require_sep(sep_bkg_subarray(background, copy, SEP_TFLOAT));
    float least = (float)sigmas * sep_bkg_globalrms(background);
    require_sep(sep_extract(&image, least, SEP_THRESH_ABS, least_area, filter, side, side,
                            SEP_FILTER_CONV, 32, 0.005, 1, 1, &catalog));
    double end = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    found->place = bench_calloc((size_t)catalog->nobj, sizeof *found->place);
    for (int i = 0; i < catalog->nobj; i++) {
        double off = (plane->bin - 1) / 2.0;
        found->place[found->count++] =
            (struct spot){catalog->x[i] * plane->bin + off, catalog->y[i] * plane->bin + off,
                          (double)catalog->flux[i]};
    }
    sep_catalog_free(catalog);
    sep_bkg_free(background);
    free(copy);
    return end - start;
}

/* The light of a star of this shape in pixels of the plane; its sum of squares is 1, so that even
 * noise stays as it is. */
enum { KERNEL = 25 };

static void fill_kernel(float *kernel, const struct bound_star *shape, int bin)
{
    double sum = 0, slope[2];
    struct bound_star s = {.sigma = hypot(shape->sigma / bin, bin > 1 ? 0.2 : 0),
                           .trail_x = shape->trail_x / bin,
                           .trail_y = shape->trail_y / bin};
    for (int k = 0; k < KERNEL * KERNEL; k++) {
        double v = bound_profile(slope, &s, k % KERNEL - KERNEL / 2, k / KERNEL - KERNEL / 2);
        kernel[k] = (float)v;
        sum += v * v;
    }
    for (int k = 0; k < KERNEL * KERNEL; k++) {
        kernel[k] /= (float)sqrt(sum);
    }
}

static double run_ours(struct found *found, const struct frame *frame, int most)
{
    struct star_list list = {0};
    struct error err = {0};
    const struct detect_options options = {.max_stars = most};
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(stars_detect(&list, frame, &options, &err), &err);
    double end = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    found->place = bench_calloc((size_t)list.count, sizeof *found->place);
    for (int i = 0; i < list.count; i++) {
        found->place[found->count++] =
            (struct spot){list.star[i].x, list.star[i].y, list.star[i].flux};
    }
    star_list_free(&list);
    return end - start;
}

/* What a second recipe takes after the first, over that. */
static double second_recipe(const struct frame *frame)
{
    static const enum detect_recipe recipe[] = {DETECT_PLAIN, DETECT_FINE_MESH};
    struct star_finder finder = {0};
    struct error err = {0};
    double ms[2];
    for (int i = 0; i < 2; i++) {
        const struct detect_options options = {.recipe = recipe[i]};
        struct star_list list;
        double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
        bench_require(star_finder_list(&list, &finder, frame, &options, &err), &err);
        ms[i] = bench_ms(CLOCK_THREAD_CPUTIME_ID) - start;
        star_list_free(&list);
    }
    star_finder_free(&finder);
    return ms[1] / ms[0];
}

/* How much sooner two threads are through, on an idle machine with two processors. */
static double thread_gain(const struct frame *frame)
{
    double ms[2];
    struct error err = {0};
    for (int threads = 1; threads <= 2; threads++) {
        const struct detect_options options = {.threads = threads};
        struct star_list list;
        double start = bench_ms(CLOCK_MONOTONIC);
        bench_require(stars_detect(&list, frame, &options, &err), &err);
        ms[threads - 1] = bench_ms(CLOCK_MONOTONIC) - start;
        star_list_free(&list);
    }
    return ms[0] / ms[1];
}

/* Returns processor time, ms. */
static double detect(struct found *found, enum detector which, const struct frame *frame,
                     const struct bound_star *shape, int most)
{
    static const float advised[9] = {1, 2, 1, 2, 4, 2, 1, 2, 1};
    float kernel[KERNEL * KERNEL];
    fill_kernel(kernel, shape, frame->luminance.bin);
    *found = (struct found){0};
    if (which == OURS) {
        return run_ours(found, frame, most);
    }
    if (which == SEP_ADVISED) {
        return run_sep(found, &frame->luminance, advised, 3, 3, 5);
    }
    double sum = 0; /* SEP scales its filter to a sum of 1 */
    for (int k = 0; k < KERNEL * KERNEL; k++) {
        sum += (double)kernel[k];
    }
    return run_sep(found, &frame->luminance, kernel, KERNEL, 4.2 / sum, 1);
}

/* ---- the truth ---- */

struct truth_star {
    double x, y, snr, bound; /* bound: rms in two dimensions, px */
};

struct truth {
    struct truth_star *star;
    int count;
    struct bound_star shape; /* of the picture's middle */
};

static void make_truth(struct truth *truth, const struct rendering *rendering)
{
    const struct render_options *o = &rendering->options;
    struct rendering_bound bound;
    rendering_bound_start(&bound, rendering);
    truth->count = rendering->stars;
    truth->star = bench_calloc((size_t)truth->count, sizeof *truth->star);
    truth->shape = (struct bound_star){.x = rendering->width / 2.0, .y = rendering->height / 2.0};
    rendering_bound_shape(&truth->shape, &bound);
    for (int i = 0; i < truth->count; i++) {
        const struct render_star *s = &rendering->star[i];
        int row = (int)fmin(fmax(s->y, 0), rendering->height - 1);
        int column = (int)fmin(fmax(s->x, 0), rendering->width - 1);
        light_map_glow_row(bound.glow, &bound.map, row);
        double sky = camera_sky_e(&o->camera) * (double)bound.glow[column];
        struct bound_star shape = {.x = s->x, .y = s->y};
        rendering_bound_shape(&shape, &bound);
        struct camera blurred = o->camera;
        blurred.fwhm_px = shape.sigma * 2.3548;
        double area = camera_star_area_px(&blurred, hypot(shape.trail_x, shape.trail_y));
        double noise = sqrt(area * (sky + o->camera.read_noise_e * o->camera.read_noise_e));
        truth->star[i] = (struct truth_star){s->x, s->y, s->electrons / noise, 0};
        if (truth->star[i].snr > 10 && truth->star[i].snr < 500) {
            truth->star[i].bound = sqrt(rendering_bound_variance(&bound, s));
        }
    }
    rendering_bound_end(&bound);
}

/* Places in cells, to find what is near. */
struct cells {
    int *first, *next;
    int columns, rows;
    double side;
};

static int cell_of(const struct cells *c, double x, double y)
{
    int i = (int)fmin(fmax(x / c->side, 0), c->columns - 1);
    int j = (int)fmin(fmax(y / c->side, 0), c->rows - 1);
    return j * c->columns + i;
}

static void cells_make(struct cells *c, const double *x, const double *y, size_t stride, int n,
                       int width, int height, double side)
{
    c->side = side;
    c->columns = (int)(width / side) + 1;
    c->rows = (int)(height / side) + 1;
    c->first = bench_calloc((size_t)(c->columns * c->rows), sizeof *c->first);
    c->next = bench_calloc((size_t)n, sizeof *c->next);
    for (int i = 0; i < n; i++) {
        const char *at_x = (const char *)x + (size_t)i * stride;
        const char *at_y = (const char *)y + (size_t)i * stride;
        int at =
            cell_of(c, *(const double *)(const void *)at_x, *(const double *)(const void *)at_y);
        c->next[i] = c->first[at];
        c->first[at] = i + 1;
    }
}

static void cells_free(struct cells *c)
{
    free(c->first);
    free(c->next);
}

/* ---- the comparison ---- */

static double nearest_place(int *which, const struct cells *c, const struct spot *place, double x,
                            double y)
{
    double least = INFINITY;
    int column = (int)(x / c->side), row = (int)(y / c->side);
    for (int j = row > 0 ? row - 1 : 0; j <= row + 1 && j < c->rows; j++) {
        for (int i = column > 0 ? column - 1 : 0; i <= column + 1 && i < c->columns; i++) {
            for (int k = c->first[j * c->columns + i]; k; k = c->next[k - 1]) {
                double d = hypot(place[k - 1].x - x, place[k - 1].y - y);
                if (d < least) {
                    least = d;
                    *which = k - 1;
                }
            }
        }
    }
    return least;
}

/* Whether a star without a neighbour that moves its centroid. */
static bool is_alone(const struct truth *truth, const struct cells *stars, int which, double reach)
{
    const struct truth_star *s = &truth->star[which];
    int column = (int)(s->x / stars->side), row = (int)(s->y / stars->side);
    for (int j = row > 0 ? row - 1 : 0; j <= row + 1 && j < stars->rows; j++) {
        for (int i = column > 0 ? column - 1 : 0; i <= column + 1 && i < stars->columns; i++) {
            for (int k = stars->first[j * stars->columns + i]; k; k = stars->next[k - 1]) {
                const struct truth_star *t = &truth->star[k - 1];
                if (k - 1 != which && t->snr > 0.01 * s->snr &&
                    hypot(t->x - s->x, t->y - s->y) < 4 * reach) {
                    return false;
                }
            }
        }
    }
    return true;
}

static void compare(struct tally *t, const struct found *found, const struct truth *truth,
                    int width, int height)
{
    double trail = hypot(truth->shape.trail_x, truth->shape.trail_y);
    double reach = 3 + trail / 2, side = 5 * reach;
    struct cells places, stars;
    cells_make(&places, &found->place->x, &found->place->y, sizeof *found->place, found->count,
               width, height, side);
    cells_make(&stars, &truth->star->x, &truth->star->y, sizeof *truth->star, truth->count, width,
               height, side);
    for (int i = 0; i < truth->count; i++) {
        const struct truth_star *s = &truth->star[i];
        if (s->x < 20 || s->y < 20 || s->x > width - 20 || s->y > height - 20 || s->snr < 3) {
            continue;
        }
        int which = 0, bin = 0;
        double off = nearest_place(&which, &places, found->place, s->x, s->y);
        while (bin < BINS - 1 && s->snr >= bin_edge[bin + 1]) {
            bin++;
        }
        int fine = (int)((s->snr - fine_first) / fine_step);
        t->there[bin]++;
        t->found[bin] += off < reach;
        if (fine < FINE) {
            t->fine_there[fine]++;
            t->fine_found[fine] += off < reach;
        }
        if (s->bound > 0 && off < reach && isfinite(s->bound) &&
            is_alone(truth, &stars, i, reach)) {
            t->over_bound = realloc(t->over_bound, (size_t)(t->errors + 1) * sizeof(double));
            t->over_bound[t->errors++] = off / s->bound;
        }
    }
    for (int i = 0; i < found->count; i++) {
        const struct spot *p = &found->place[i];
        bool real = false;
        int column = (int)(p->x / stars.side), row = (int)(p->y / stars.side);
        for (int j = row > 0 ? row - 1 : 0; j <= row + 1 && j < stars.rows; j++) {
            for (int m = column > 0 ? column - 1 : 0; m <= column + 1 && m < stars.columns; m++) {
                for (int k = stars.first[j * stars.columns + m]; k; k = stars.next[k - 1]) {
                    const struct truth_star *s = &truth->star[k - 1];
                    real = real || (s->snr > 1.5 && hypot(s->x - p->x, s->y - p->y) < reach);
                }
            }
        }
        t->false_ones += !real;
    }
    cells_free(&places);
    cells_free(&stars);
}

/* ---- the frames ---- */

enum kind { BINNED, ROUND, TRAILS, CROWDED, MOONLIT, KINDS };
static const char *const kind_name[KINDS] = {"24 MP, two by two pixels in one", "6 MP, round stars",
                                             "6 MP, trails", "6 MP, Milky Way", "6 MP, moonlight"};
static const char *const kind_key[KINDS] = {"binned", "round", "trails", "crowded", "moonlit"};

static struct render_options make_options(struct random *r, enum kind kind)
{
    struct render_options o = render_options_typical();
    double v[3];
    int times = kind == BINNED ? 1 : 2;
    o.camera = bench_camera(r, bench_log_between(r, 5, 30));
    o.camera.pixel_um *= times;
    o.lens = bench_lens(r, &o.camera);
    o.lens.width = BENCH_WIDTH / times;
    o.lens.height = BENCH_HEIGHT / times;
    o.lens.scale_arcsec = camera_scale_arcsec(&o.camera);
    o.lens.axis_x /= times;
    o.lens.axis_y /= times;
    o.tracked = kind == ROUND || kind == MOONLIT || kind == CROWDED;
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    if (kind == CROWDED) {
        o.ra_deg = random_between(r, 270, 310);
        o.dec_deg = -20 + 1.5 * (o.ra_deg - 270);
        o.camera.exposure_s *= 3;
    } else if (kind == MOONLIT) {
        o.camera.sky_mag = random_between(r, 15, 17);
        o.light.moon_glow = random_between(r, 0.5, 1.5);
    } else if (kind == TRAILS) {
        o.camera.exposure_s *= random_between(r, 0.7, 1.8);
    }
    o.up_angle_deg = random_between(r, 0, 360);
    o.sensor.hot_share = bench_log_between(r, 2e-6, 5e-5);
    o.sensor.seed = random_bits(r);
    o.light.seed = random_bits(r);
    o.seed = random_bits(r);
    return o;
}

static void make_frame(struct frame *frame, const struct rendering *rendering)
{
    const struct frame_options how = {.max_plane_pixels = most_plane_pixels};
    struct binner binner;
    struct error err = {0};
    *frame = (struct frame){.format = "FITS"};
    bench_require(binner_start(&binner, frame, rendering->width, rendering->height, ORIENT_AS_IS, 1,
                               16, &how, &err),
                  &err);
    frame->luminance.full = SENSOR_WHITE;
    for (int y = 0; y < rendering->height; y++) {
        memcpy(binner_line(&binner), rendering->adu + (size_t)y * (size_t)rendering->width,
               (size_t)rendering->width * sizeof *rendering->adu);
        binner_add(&binner);
    }
    binner_free(&binner);
}

struct settings {
    const char *numbers;
    int each, rounds;
    bool only_ours;
};

/* Of all rounds of all frames. */
struct ratios {
    double *second, *gain;
    int count;
};

static void try_frame(struct tally tally[DETECTORS], struct ratios *ratios,
                      const struct starfield *field, enum kind kind, int number,
                      const struct settings *settings)
{
    struct random random = {bench_seed(9000 + (unsigned)kind, (unsigned)number)};
    struct render_options options = make_options(&random, kind);
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct truth truth;
    struct error err = {0};
    bench_require(render(&rendering, field, NULL, &options, &err), &err);
    make_frame(&frame, &rendering);
    make_truth(&truth, &rendering);
    for (int which = 0; which < (settings->only_ours ? 1 : DETECTORS); which++) {
        struct found found;
        detect(&found, (enum detector)which, &frame, &truth.shape, 1000000);
        compare(&tally[which], &found, &truth, rendering.width, rendering.height);
        free(found.place);
        if (which == SEP_MATCHED) {
            continue;
        }
        double least = INFINITY;
        for (int round = 0; round < settings->rounds; round++) {
            double ms = detect(&found, (enum detector)which, &frame, &truth.shape, 0);
            free(found.place);
            least = fmin(least, ms);
        }
        tally[which].ms += least;
    }
    for (int round = 0; round < settings->rounds; round++) {
        ratios->second[ratios->count] = second_recipe(&frame);
        ratios->gain[ratios->count++] = thread_gain(&frame);
    }
    free(truth.star);
    frame_free(&frame);
    rendering_free(&rendering);
}

/* ---- report ---- */

/* The signal to noise at which half of the stars are found, between the two bins around it. */
static double half_found(const struct tally *t)
{
    double before = 0, at_before = fine_first - fine_step / 2;
    for (int i = 0; i < FINE; i++) {
        double share = t->fine_found[i] / fmax(t->fine_there[i], 1);
        double at = fine_first + (i + 0.5) * fine_step;
        if (share >= 0.5) {
            return at_before + (at - at_before) * (0.5 - before) / fmax(share - before, 1e-9);
        }
        before = share;
        at_before = at;
    }
    return (double)NAN;
}

/* How the finder compares, over all kinds. */
struct summary {
    double own_ms, other_ms, own_false, other_false;
    double
        worst_half; /* signal to noise at which half is found, over that of SEP with the filter */
    double worst_error; /* over what photons allow, round stars */
};

static void summarise(struct summary *sum, struct tally tally[DETECTORS], enum kind kind,
                      double error)
{
    sum->own_ms += tally[OURS].ms;
    sum->other_ms += tally[SEP_ADVISED].ms;
    sum->own_false += tally[OURS].false_ones;
    sum->other_false += tally[SEP_MATCHED].false_ones;
    sum->worst_half =
        fmax(sum->worst_half, half_found(&tally[OURS]) / half_found(&tally[SEP_MATCHED]));
    if (kind != BINNED && kind != TRAILS) {
        sum->worst_error = fmax(sum->worst_error, error);
    }
}

/* Returns the finder's error over what photons allow. */
static double report(struct tally tally[DETECTORS], enum kind kind, const struct settings *s)
{
    double own_error = (double)NAN;
    printf("%s\n", kind_name[kind]);
    for (int which = 0; which < (s->only_ours ? 1 : DETECTORS); which++) {
        struct tally *t = &tally[which];
        printf("  %-12s", detector_name[which]);
        for (int b = 0; b < BINS; b++) {
            printf(" %5.1f", 100 * t->found[b] / fmax(t->there[b], 1));
        }
        double half = half_found(t), typical = bench_quantile(t->over_bound, t->errors, 0.5),
               late = bench_quantile(t->over_bound, t->errors, 0.95);
        /* A square in two dimensions has a median of ln 2 times its mean. */
        printf(" %6.2f %8.1f %6.2f %6.2f", half, t->false_ones / s->each, typical / sqrt(log(2)),
               late / sqrt(log(20)));
        if (t->ms > 0) {
            printf(" %8.1f %6.3f", t->ms / s->each, t->ms / tally[SEP_ADVISED].ms);
        }
        printf("\n");
        own_error = which == OURS ? typical / sqrt(log(2)) : own_error;
        char key[80];
        snprintf(key, sizeof key, "detection.%s.%s.half_snr", kind_key[kind], detector_key[which]);
        bench_note(s->numbers, key, half);
        snprintf(key, sizeof key, "detection.%s.%s.false", kind_key[kind], detector_key[which]);
        bench_note(s->numbers, key, t->false_ones / s->each);
        snprintf(key, sizeof key, "detection.%s.%s.over_bound", kind_key[kind],
                 detector_key[which]);
        bench_note(s->numbers, key, typical / sqrt(log(2)));
    }
    fflush(stdout);
    return own_error;
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    {"each", 0, OPTION_INTEGER, "N", "Frames of each kind (default 8).", AT(each), 1, 1000, false,
     NULL, NULL},
    {"rounds", 0, OPTION_INTEGER, "N", "Times of which the least counts (default 3).", AT(rounds),
     0, 99, false, NULL, NULL},
    {"ours", 0, OPTION_FLAG, NULL, "Leave SEP out.", AT(only_ours), 0, 0, false, NULL, NULL},
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.each = 8, .rounds = 3};
    struct starfield field = {0};
    struct error err = {0};
    if (!bench_start(&settings, rows, argc, argv, "detection [options]")) {
        return 0;
    }
    bench_require(starfield_load(&field, "catalogs/stars.tsv", 1, &err), &err);
    printf("found %% at signal to noise  3-5   5-8  8-15 15-50   50-   half    false   error over "
           "bound  ms\n%62s median  95 %%   a frame  ratio\n",
           "");
    struct summary sum = {0};
    size_t most = (size_t)KINDS * (size_t)settings.each * (size_t)settings.rounds;
    struct ratios ratios = {.second = bench_calloc(most, sizeof *ratios.second),
                            .gain = bench_calloc(most, sizeof *ratios.gain)};
    for (int kind = 0; kind < KINDS; kind++) {
        struct tally tally[DETECTORS] = {0};
        for (int i = 0; i < settings.each; i++) {
            try_frame(tally, &ratios, &field, (enum kind)kind, i, &settings);
        }
        double error = report(tally, (enum kind)kind, &settings);
        summarise(&sum, tally, (enum kind)kind, error);
        for (int which = 0; which < DETECTORS; which++) {
            free(tally[which].over_bound);
        }
    }
    double second = bench_quantile(ratios.second, ratios.count, 0.5);
    double gain = bench_quantile(ratios.gain, ratios.count, 0.5);
    printf("time over SEP's background and extraction: %.3f\n"
           "signal to noise of the half that is found, over SEP's, worst: %.3f; false ones: %.2f\n"
           "a second recipe over the first: %.2f\ngained by a second thread: %.2f\n",
           sum.own_ms / sum.other_ms, sum.worst_half, sum.own_false / sum.other_false, second,
           gain);
    bench_note(settings.numbers, "detection.over_sep", sum.own_ms / sum.other_ms);
    bench_note(settings.numbers, "detection.half_over_sep", sum.worst_half);
    bench_note(settings.numbers, "detection.false_over_sep", sum.own_false / sum.other_false);
    bench_note(settings.numbers, "detection.error_over_allowed", sum.worst_error);
    bench_note(settings.numbers, "detection.second_recipe", second);
    bench_note(settings.numbers, "detection.thread_gain", gain);
    free(ratios.second);
    free(ratios.gain);
    starfield_free(&field);
    return 0;
}
