/* tests/bench/zones.c: where a solution says that it is proven, against where the sky is: whole
 * frames, roofs and trees, two panels, borders. Reading files is left out. */
#include "base/parallel.h"
#include "demo/nebulae.h"
#include "demo/render.h"
#include "match/solve.h"
#include "objects/field.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>
#include <string.h>

enum kind { WHOLE, NARROW, GROUND, PANELS, BORDER, KINDS };
static const struct {
    const char *name, *key;
} kinds[KINDS] = {
    [WHOLE] = {"all sky, 4-40 deg", "whole"},
    [NARROW] = {"all sky, 2.5-4 deg", "narrow"},
    [GROUND] = {"roofs and trees over up to 0.6", "ground"},
    [PANELS] = {"two panels", "panels"},
    [BORDER] = {"a border of 5 to 15 %", "border"},
};

/* What is not the sky that solves begins there. */
struct mask {
    enum kind kind;
    struct light_map map; /* of GROUND */
    double left, right;   /* the columns of the panel, px; of BORDER what is within the margins */
    double top, bottom;
};

struct outcome {
    enum kind kind;
    bool solved, right;
    double sky;    /* share of the picture that is this sky */
    double missed; /* share of the sky that is not proven */
    double beyond; /* share of what is no sky, more than a zone from it, that counts as proven */
    int named, named_beyond; /* names, and those that stand where no sky is */
};

struct run {
    int each, first;
    const struct bench_sky *sky;
    const struct nebulae *nebulae;
    const struct objects *objects;
    struct outcome *outcome;
};

static bool is_sky(const struct mask *mask, double x, double y)
{
    if (mask->kind == GROUND) {
        int column = (int)fmin(fmax(x, 0), mask->map.width - 1);
        return y < mask->map.skyline[column];
    }
    return x >= mask->left && x < mask->right && y >= mask->top && y < mask->bottom;
}

static struct render_options make_options(struct random *r, enum kind kind)
{
    struct render_options o = render_options_typical();
    double width = kind == NARROW ? bench_log_between(r, 2.5, 4) : bench_log_between(r, 4, 40);
    double v[3];
    o.camera = bench_camera(r, width);
    o.lens = bench_lens(r, &o.camera);
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    o.up_angle_deg = random_between(r, 0, 360);
    o.light.moon_glow = random_between(r, 0, 0.5);
    o.light.moon_angle_deg = random_between(r, -180, 180);
    o.light.vignetting = random_between(r, 0.1, 0.5);
    o.light.cloud = kind == WHOLE && random_uniform(r) < 0.2 ? random_between(r, 0, 0.3) : 0;
    o.light.foreground = kind == GROUND ? random_between(r, 0.2, 0.6) : 0;
    o.light.seed = random_bits(r);
    o.sensor.hot_share = bench_log_between(r, 2e-6, 5e-5);
    o.sensor.seed = random_bits(r);
    if (random_uniform(r) < 0.2) {
        o.camera.stacked = (int)bench_log_between(r, 20, 400);
        o.tracked = true;
    }
    o.seed = random_bits(r);
    return o;
}

/* Another sky in the right part of the picture. */
static void put_panel(struct rendering *rendering, const struct rendering *other, int from)
{
    for (int y = 0; y < rendering->height; y++) {
        size_t row = (size_t)y * (size_t)rendering->width;
        memcpy(rendering->adu + row + from, other->adu + row,
               (size_t)(rendering->width - from) * sizeof *rendering->adu);
    }
}

static void put_border(struct rendering *rendering, const struct mask *mask)
{
    for (int y = 0; y < rendering->height; y++) {
        for (int x = 0; x < rendering->width; x++) {
            if (!is_sky(mask, x, y)) {
                rendering->adu[(size_t)y * (size_t)rendering->width + (size_t)x] = 600;
            }
        }
    }
}

static void spoil(struct rendering *rendering, struct mask *mask, const struct run *run,
                  struct random *random)
{
    struct error err = {0};
    mask->right = rendering->width;
    mask->bottom = rendering->height;
    if (mask->kind == GROUND) {
        bench_require(
            light_map_make(&mask->map, &rendering->options.light, &rendering->options.lens, &err),
            &err);
    } else if (mask->kind == PANELS) {
        struct rendering other;
        struct render_options options = rendering->options;
        double v[3];
        random_direction(random, v);
        vector_to_radec(&options.ra_deg, &options.dec_deg, v);
        options.seed = random_bits(random);
        bench_require(render(&other, &run->sky->field, run->nebulae, &options, &err), &err);
        mask->right = floor(rendering->width * random_between(random, 0.5, 0.7));
        put_panel(rendering, &other, (int)mask->right);
        rendering_free(&other);
    } else if (mask->kind == BORDER) {
        double margin = random_between(random, 0.05, 0.15);
        mask->left = margin * rendering->width;
        mask->right -= margin * rendering->width;
        mask->top = margin * rendering->height;
        mask->bottom -= margin * rendering->height;
        put_border(rendering, mask);
    }
}

/* Whether no sky is within a zone. */
static bool is_far_from_sky(const struct mask *mask, double x, double y, const struct wcs *wcs)
{
    for (int n = 0; n < 25; n++) {
        double right = (n % 5 - 2) / 2.0 * wcs->width / TRUST_COLUMNS;
        double down = (n / 5 - 2) / 2.0 * wcs->height / TRUST_ROWS;
        if (is_sky(mask, x + right, y + down)) {
            return false;
        }
    }
    return true;
}

static void judge_area(struct outcome *out, const struct solution *solution,
                       const struct mask *mask)
{
    enum { ACROSS = 10 * TRUST_COLUMNS, DOWN = 10 * TRUST_ROWS };
    const struct wcs *wcs = &solution->wcs;
    int sky = 0, missed = 0, none = 0, beyond = 0;
    for (int i = 0; i < ACROSS * DOWN; i++) {
        double x = (i % ACROSS + 0.5) / ACROSS * wcs->width - 0.5;
        double y = (i / ACROSS + 0.5) / DOWN * wcs->height - 0.5;
        bool holds = trust_holds(&solution->trust, x, y);
        if (is_sky(mask, x, y)) {
            sky++;
            missed += !holds;
        } else if (is_far_from_sky(mask, x, y, wcs)) {
            none++;
            beyond += holds;
        }
    }
    out->sky = (double)sky / (ACROSS * DOWN);
    out->missed = sky ? (double)missed / sky : 0;
    out->beyond = none ? (double)beyond / none : 0;
}

static void count_names(struct outcome *out, const struct field_object *list, int count,
                        const struct mask *mask, const struct wcs *wcs)
{
    for (int i = 0; i < count; i++) {
        if (wcs_inside(wcs, list[i].x, list[i].y)) {
            out->named++;
            out->named_beyond += is_far_from_sky(mask, list[i].x, list[i].y, wcs);
        }
    }
}

static void judge(struct outcome *out, const struct solution *solution, const struct mask *mask,
                  const struct wcs *truth, const struct run *run)
{
    struct field field = {0};
    struct error err = {0};
    out->right = bench_is_right(&solution->wcs, truth);
    if (!out->right) {
        return; /* of two skies the other may have been found */
    }
    judge_area(out, solution, mask);
    bench_require(field_list(&field, &solution->wcs, run->objects, &err), &err);
    field_keep_proven(&field, &solution->wcs, &solution->trust);
    count_names(out, field.object, field.objects, mask, &solution->wcs);
    count_names(out, field.star, field.stars, mask, &solution->wcs);
    field_free(&field);
}

static void try_frame(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(5000, (unsigned)(run->first + item))};
    struct rendering rendering;
    struct frame frame = {0};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    struct solve_options none = {0};
    struct error err = {0};
    /* Half of the frames are all sky. */
    static const enum kind turn[8] = {WHOLE, GROUND, WHOLE, PANELS, WHOLE, BORDER, WHOLE, NARROW};
    struct mask mask = {.kind = turn[(run->first + item) % 8]};
    out->kind = mask.kind;
    const struct render_options options = make_options(&random, out->kind);
    bench_require(render(&rendering, &run->sky->field, run->nebulae, &options, &err), &err);
    spoil(&rendering, &mask, run, &random);
    bench_require(rendering_to_frame(&frame, &rendering, &err), &err);
    bench_require(
        solve_frame(&solution, &list, &times, &frame, &run->sky->index.index, &none, &err), &err);
    out->solved = solution.solved;
    if (solution.solved) {
        judge(out, &solution, &mask, &rendering.truth, run);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    light_map_free(&mask.map);
    rendering_free(&rendering);
}

static void note(const char *file, enum kind kind, const char *what, double value)
{
    char key[80];
    snprintf(key, sizeof key, "zones.%s.%s", kinds[kind].key, what);
    bench_note(file, key, value);
}

static void report_kind(const struct outcome *outcome, int frames, enum kind kind,
                        const char *numbers)
{
    int all = 0, right = 0, named = 0, named_beyond = 0;
    double missed = 0, worst = 0, beyond = 0;
    for (int i = 0; i < frames; i++) {
        const struct outcome *o = &outcome[i];
        all += o->kind == kind;
        if (o->kind == kind && o->right) {
            right++;
            named += o->named;
            named_beyond += o->named_beyond;
            missed += o->missed;
            worst = fmax(worst, o->missed);
            beyond += o->beyond;
        }
    }
    printf("%-32s %6d %6d %9.2f %9.2f %9.2f %7d %7d\n", kinds[kind].name, all, right,
           100 * missed / right, 100 * worst, 100 * beyond / right, named, named_beyond);
    note(numbers, kind, "missed_percent", 100 * missed / right);
    note(numbers, kind, "named_beyond", named_beyond);
}

struct settings {
    const char *index, *numbers;
    bool failed;
    int frames, first, threads;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"frames", 0, OPTION_INTEGER, "N", "Default 600.", AT(frames), 1, 1000000, false, NULL, NULL},
    BENCH_FIRST_OPTION,
    {"failed", 0, OPTION_FLAG, NULL, "List the frames that are not as they should be.", AT(failed),
     0, 0, false, NULL, NULL},
    {"threads", 0, OPTION_INTEGER, "N", "Default: one a processor. 600 MB each.", AT(threads), 1,
     256, false, NULL, NULL},
    BENCH_NUMBERS_OPTION,
    {0}};

static void print_failed(const struct outcome *outcome, int frames, int first)
{
    for (int i = 0; i < frames; i++) {
        const struct outcome *o = &outcome[i];
        if (o->right && (o->missed > 0.05 || o->named_beyond || o->beyond > 0.05)) {
            printf("  --first %d --frames 1: %s, %.1f %% of the sky not proven, %.1f %% beyond it, "
                   "%d named there\n",
                   first + i, kinds[o->kind].name, 100 * o->missed, 100 * o->beyond,
                   o->named_beyond);
        }
    }
}

int main(int argc, char **argv)
{
    struct settings settings = {
        .index = "build/hipparcos.alidx", .frames = 600, .threads = parallel_processors()};
    struct bench_sky sky = {0};
    struct nebulae nebulae = {0};
    struct objects objects = {0};
    struct error err = {0};
    if (!bench_start(&settings, rows, argc, argv, "zones [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    bench_require(nebulae_load(&nebulae, "catalogs/objects.tsv", &err), &err);
    bench_require(objects_load(&objects, "catalogs", &err), &err);
    struct run run = {.first = settings.first,
                      .sky = &sky,
                      .nebulae = &nebulae,
                      .objects = &objects,
                      .outcome = bench_calloc((size_t)settings.frames, sizeof *run.outcome)};
    parallel_each(settings.frames, settings.threads, try_frame, &run);
    printf("Where solutions are proven, %% of the area\n%-32s %6s %6s %9s %9s %9s %7s %7s\n", "",
           "frames", "right", "sky lost", "at worst", "beyond", "names", "beyond");
    for (int kind = 0; kind < KINDS; kind++) {
        report_kind(run.outcome, settings.frames, (enum kind)kind, settings.numbers);
    }
    if (settings.failed) {
        print_failed(run.outcome, settings.frames, settings.first);
    }
    free(run.outcome);
    objects_free(&objects);
    nebulae_free(&nebulae);
    bench_sky_free(&sky);
    return 0;
}
