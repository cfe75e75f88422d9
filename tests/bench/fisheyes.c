/* tests/bench/fisheyes.c: fisheyes of four projections, panoramas and all-sky cameras: how many are
 * solved, how exact what is proven of them is, and what is placed where the lens shows nothing. */
#include "base/parallel.h"
#include "match/solve.h"
#include "stars/stars.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tests/bench/bench_view.h"

#include <stddef.h>

enum kind { ARC, ZEA, STG, SIN, SKY, CYP, CAR, KINDS };
static const struct {
    const char *name, *key;
    enum projection projection;
    double narrowest_deg, widest_deg;
} kinds[KINDS] = {
    [ARC] = {"equidistant fisheyes, 100-200 deg", "equidistant", EQUIDISTANT, 100, 200},
    [ZEA] = {"equisolid fisheyes, 100-200 deg", "equisolid", EQUISOLID, 100, 200},
    [STG] = {"stereographic fisheyes, 100-200 deg", "stereographic", STEREOGRAPHIC, 100, 200},
    [SIN] = {"orthographic fisheyes, 100-176 deg", "orthographic", ORTHOGRAPHIC, 100, 176},
    [SKY] = {"all-sky cameras, 20-60 stars", "all-sky", EQUIDISTANT, 170, 190},
    [CYP] = {"cylindrical panoramas, 100-340 deg", "cylindrical", CYLINDRICAL, 100, 340},
    [CAR] = {"equirectangular panoramas, 120-360 deg", "equirectangular", EQUIRECTANGULAR, 120,
             360},
};

struct outcome {
    bool solved, right;
    int shown, matched, outside; /* stars in the picture; paired; placed where it shows nothing */
    double off_px, covered; /* worst place of a star that is shown; share of stars that have one */
    double wide_deg, ms;
    const char *found;
    char words[200];
};

struct run {
    int each, first_kind, first;
    const struct bench_sky *sky;
    struct outcome *outcome;
};

static double radius_of(enum projection projection, double angle)
{
    return projection == EQUIDISTANT     ? angle
           : projection == EQUISOLID     ? 2 * sin(angle / 2)
           : projection == STEREOGRAPHIC ? 2 * tan(angle / 2)
                                         : sin(angle);
}

/* A fisheye fills the frame to its corners, or half of the wide ones leave a circle in it. Its axis
 * is half a per cent of the width off the middle, and it bends the rim by 1 % (deviations). */
static void choose_fisheye(struct view *view, enum kind kind, double wide_deg,
                           const struct frame *frame, struct random *r)
{
    double width = frame->width, height = frame->height, half = wide_deg / 2;
    bool round = kind == SKY || (half > 70 && random_uniform(r) < 0.5);
    double reach = round ? 0.48 * height : 0.5 * hypot(width, height);
    view->projection = kinds[kind].projection;
    view->focal_px = reach / radius_of(view->projection, half * RAD_PER_DEG);
    view->farthest_deg = half;
    view->middle_x += 0.005 * width * random_normal(r);
    view->middle_y += 0.005 * width * random_normal(r);
    view->bend = 0.01 * random_normal(r);
    view->bend_px = reach;
}

static void make_picture(struct frame *frame, struct view *view, struct outcome *out,
                         const struct starfield *field, enum kind kind, struct random *r)
{
    double sigma = random_between(r, 1.0, 1.6);
    bool sky = kind == SKY;
    start_frame(frame, sky ? 1400 : 3000, sky ? 1050 : kind == CYP ? 1500 : 2000, 10, 0.2, r);
    out->wide_deg = random_between(r, kinds[kind].narrowest_deg, kinds[kind].widest_deg);
    *view = (struct view){.right = frame->width,
                          .middle_x = 0.5 * (frame->width - 1),
                          .middle_y = 0.5 * (frame->height - 1)};
    point_view(view, r);
    if (kind >= CYP) {
        view->projection = kinds[kind].projection;
        view->focal_px = frame->width / (out->wide_deg * RAD_PER_DEG);
        view->middle_y = frame->height * random_between(r, 0.4, 0.6);
    } else {
        choose_fisheye(view, kind, out->wide_deg, frame, r);
    }
    double deep = sky ? random_between(r, 2.4, 3.4) : random_between(r, 5, 7.5);
    add_sky(&frame->luminance, field, view, deep, sigma);
}

/* As solve_frame does, on one list. */
static void solve(struct outcome *out, struct solution *solution, const struct frame *frame,
                  const struct index *index)
{
    struct solve_options options = {.threads = 1};
    struct solve_times times;
    struct star_list list = {0};
    struct error err = {0};
    bench_require(solve_frame(solution, &list, &times, frame, index, &options, &err), &err);
    out->solved = solution->solved;
    out->matched = solution->matched;
    out->ms = times.match_ms + times.fit_ms;
    out->found = solution->solved ? projection_code(solution->wcs.projection) : "";
    snprintf(out->words, sizeof out->words, "%s", solution->why);
    star_list_free(&list);
}

/* Holds the answer against the lens, at the places of stars down to magnitude 6. */
static void judge(struct outcome *out, const struct wcs *wcs, const struct view *view,
                  const struct frame *frame, const struct starfield *field)
{
    struct sky_view look = {0};
    struct error err = {0};
    int covered = 0;
    bench_require(starfield_look(&look, field, view->axis[2], 180, 6, &err), &err);
    for (int i = 0; i < look.count; i++) {
        double x, y, is_x = 0, is_y = 0;
        bool shown = project(&is_x, &is_y, view, look.star[i].v) && is_x > 0 && is_y > 0 &&
                     is_x < frame->width - 1 && is_y < frame->height - 1;
        bool placed = out->solved && wcs_pixel(&x, &y, wcs, look.star[i].v) && x > 0 && y > 0 &&
                      x < frame->width - 1 && y < frame->height - 1;
        out->shown += shown;
        covered += shown && placed;
        out->outside += placed && !shown && hypot(x - is_x, y - is_y) > 5;
        out->off_px = shown && placed ? fmax(out->off_px, hypot(x - is_x, y - is_y)) : out->off_px;
    }
    sky_view_free(&look);
    out->covered = out->shown ? (double)covered / out->shown : 0;
    out->right = out->solved && out->off_px < 0.01 * frame->width;
}

static void attempt(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct frame frame;
    struct view view;
    struct solution solution = {0};
    enum kind kind = (enum kind)(run->first_kind + item / run->each);
    struct random random = {bench_seed(1300 + kind, (unsigned)(run->first + item % run->each))};
    make_picture(&frame, &view, out, &run->sky->field, kind, &random);
    solve(out, &solution, &frame, &run->sky->index.index);
    judge(out, &solution.wcs, &view, &frame, &run->sky->field);
    solution_free(&solution);
    free(frame.luminance.value);
}

static void note(const char *numbers, const char *key, const char *what, double value)
{
    char text[80];
    snprintf(text, sizeof text, "fisheyes.%s%s%s", key ? key : "", key ? "." : "", what);
    bench_note(numbers, text, value);
}

/* Of one kind, or of all with kind KINDS. */
static void report(const struct outcome *outcome, int count, enum kind kind, const char *numbers)
{
    const char *key = kind < KINDS ? kinds[kind].key : NULL;
    int solved = 0, wrong = 0, outside = 0, exact = 0;
    double *off = bench_calloc((size_t)count, sizeof *off), covered = 0;
    double *ms = bench_calloc((size_t)count, sizeof *ms);
    for (int i = 0; i < count; i++) {
        ms[i] = outcome[i].ms;
        wrong += outcome[i].solved && !outcome[i].right;
        outside += outcome[i].outside;
        if (outcome[i].right) {
            off[solved++] = outcome[i].off_px;
            exact += outcome[i].off_px < 1;
            covered += outcome[i].covered;
        }
    }
    double share = 100.0 * solved / count;
    printf("%-40s %5d %6.1f %5d %8.2f %8.2f %8.1f %7d %8.0f\n", key ? kinds[kind].name : "all",
           count, share, wrong, bench_quantile(off, solved, 0.5), bench_quantile(off, solved, 0.95),
           100 * covered / fmax(1, solved), outside, bench_quantile(ms, count, 0.5));
    note(numbers, key, "right_percent", share);
    note(numbers, key, "wrong", wrong);
    note(numbers, key, "exact_percent", 100.0 * exact / count);
    note(numbers, key, "off_95_px", bench_quantile(off, solved, 0.95));
    note(numbers, key, "outside", outside);
    free(off);
    free(ms);
}

struct settings {
    const char *index, *numbers;
    int each, first, threads, only;
    bool list;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    BENCH_EACH_OPTION("Pictures", "50"),
    BENCH_FIRST_OPTION,
    {"only", 0, OPTION_CHOICE,
     "equidistant|equisolid|stereographic|orthographic|all-sky|cylindrical|equirectangular",
     "One kind of picture; default all.", AT(only), 0, 0, false, NULL, NULL},
    BENCH_LIST_OPTION,
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx",
                                .each = 50,
                                .only = KINDS,
                                .threads = parallel_processors()};
    struct bench_sky sky = {0};
    if (!bench_start(&settings, rows, argc, argv, "fisheyes [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    int kind_count = settings.only == KINDS ? KINDS : 1,
        first = kind_count == 1 ? settings.only : 0;
    int count = kind_count * settings.each;
    struct run run = {settings.each, first, settings.first, &sky,
                      bench_calloc((size_t)count, sizeof *run.outcome)};
    parallel_each(count, settings.threads, attempt, &run);
    printf("%-40s %5s %6s %5s %8s %8s %8s %7s %8s\n", "", "", "right", "wrong", "off px", "95 %",
           "shown %", "outside", "ms");
    for (int k = 0; k < kind_count; k++) {
        const struct outcome *outcome = run.outcome + k * settings.each;
        report(outcome, settings.each, (enum kind)(first + k), settings.numbers);
        for (int i = 0; settings.list && i < settings.each; i++) {
            const struct outcome *o = &outcome[i];
            printf("  --only %s --first %d: %.0f deg, %s%s, %d matched, %d shown, %.0f %% of them "
                   "placed, off %.2f "
                   "px, %d outside, %.0f ms %s\n",
                   kinds[first + k].key, settings.first + i, o->wide_deg, o->found,
                   o->solved ? o->right ? "" : " WRONG" : "unsolved", o->matched, o->shown,
                   100 * o->covered, o->off_px, o->outside, o->ms, o->solved ? "" : o->words);
        }
    }
    report(run.outcome, count, KINDS, settings.numbers);
    free(run.outcome);
    bench_sky_free(&sky);
    return 0;
}
