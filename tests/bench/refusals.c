/* tests/bench/refusals.c: pictures that no camera model fits, or that show no sky: what it costs to
 * refuse them. Nothing here may be answered with a place that is not in the picture. */
#include "base/parallel.h"
#include "demo/starfield.h"
#include "match/solve.h"
#include "stars/stars.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tests/bench/bench_view.h"

#include <stddef.h>
#include <string.h>

enum kind { NOISE, CYLINDER, RECTANGLE, FISHEYE, TRAILS, PANELS, BRIGHTENED, KINDS };
static const struct {
    const char *name, *key;
} kinds[KINDS] = {
    [NOISE] = {"noise, 1800 x 1200", "noise"},
    [CYLINDER] = {"cylindrical panoramas, 100-340 deg", "cylinder"},
    [RECTANGLE] = {"equirectangular panoramas, 120-360 deg", "rectangle"},
    [FISHEYE] = {"fisheyes, 100-200 deg", "fisheye"},
    [TRAILS] = {"star trails of 3-60 min", "trails"},
    [PANELS] = {"two skies side by side", "panels"},
    [BRIGHTENED] = {"brightened telephone pictures", "brightened"},
};

struct outcome {
    enum kind kind;
    bool solved, right;
    int stars;
    long hypotheses, steps;
    double match_fit_ms, fit_ms, detect_ms; /* of processor time; of the clock */
    char why[200];
};

struct run {
    int each, first_kind, first;
    const struct bench_sky *sky;
    struct outcome *outcome;
};

/* As a picture of 8 bits, brightened until its noise is coarse. */
static void coarsen(struct plane *plane, double gain)
{
    for (int i = 0; i < plane->width * plane->height; i++) {
        double value = 30 + gain * ((double)plane->value[i] - 1000);
        plane->value[i] = (float)rint(fmin(255, fmax(0, value)));
    }
    plane->full = 255;
}

/* What the views of a kind are. Returns their number. */
static int choose_views(struct view view[2], enum kind kind, const struct frame *frame,
                        struct random *r)
{
    int views = kind == NOISE ? 0 : kind == PANELS ? 2 : 1;
    double width = frame->width, height = frame->height;
    for (int i = 0; i < views; i++) {
        double least = 20, most = 80;
        view[i] = (struct view){.left = i * width / 2,
                                .right = width / (views - i),
                                .middle_y = height * random_between(r, 0.4, 0.6)};
        view[i].middle_x = (view[i].left + view[i].right) / 2;
        point_view(&view[i], r);
        if (kind == CYLINDER || kind == RECTANGLE) {
            double wide =
                random_between(r, kind == CYLINDER ? 100 : 120, kind == CYLINDER ? 340 : 360);
            view[i].projection = kind == CYLINDER ? CYLINDRICAL : EQUIRECTANGULAR;
            view[i].focal_px = width / (wide * RAD_PER_DEG);
        } else if (kind == FISHEYE) {
            double half = random_between(r, 50, 100) * RAD_PER_DEG, reach = 0.5 * width;
            static const enum projection of[] = {EQUIDISTANT, EQUISOLID, STEREOGRAPHIC};
            view[i].projection = of[(int)(3 * random_uniform(r))];
            view[i].focal_px = view[i].projection == EQUIDISTANT ? reach / half
                               : view[i].projection == EQUISOLID ? reach / (2 * sin(half / 2))
                                                                 : reach / (2 * tan(half / 2));
        } else {
            double wide = bench_log_between(r, least, most) * RAD_PER_DEG;
            view[i].focal_px = (view[i].right - view[i].left) / (2 * tan(wide / 2));
        }
    }
    return views;
}

static void make_picture(struct frame *frame, struct view view[2], const struct starfield *field,
                         enum kind kind, struct random *r)
{
    bool small = kind == NOISE || kind == BRIGHTENED;
    double sigma = random_between(r, 1.0, 1.6), blur = random_uniform(r) < 0.5 ? 0.6 : 0.2;
    start_frame(frame, small ? 1800 : 3000,
                small              ? 1200
                : kind == CYLINDER ? 1500
                                   : 2000,
                10, blur, r);
    int views = choose_views(view, kind, frame, r);
    double deep = random_between(r, 6, kind == TRAILS ? 7 : 8.5);
    for (int i = 0; i < views; i++) {
        view[i].trail = kind == TRAILS ? bench_log_between(r, 3, 60) * 0.25 * RAD_PER_DEG : 0;
        add_sky(&frame->luminance, field, &view[i], kind == BRIGHTENED ? 4.5 : deep, sigma);
    }
    if (kind == BRIGHTENED) {
        coarsen(&frame->luminance, random_between(r, 1, 4));
    }
}

/* Whether a catalogue star is in a view where the answer has it, to 1 % of the width. */
static bool is_there(const struct view *view, const double star[3], double x, double y,
                     double width)
{
    for (double part = 0; part <= 1 && view->focal_px > 0; part += 0.05) {
        double v[3], is_x, is_y;
        turn(v, star, view->trail * part);
        if (project(&is_x, &is_y, view, v) && hypot(is_x - x, is_y - y) < 0.01 * width) {
            return true;
        }
    }
    return false;
}

/* Most of the stars that the answer names are what it says, in one of the views. */
static bool is_right(const struct solution *solution, const struct star_list *list,
                     const struct view view[2], const struct index *index)
{
    int right = 0;
    for (int i = 0; i < solution->matched; i++) {
        const struct match_pair *pair = &solution->pair[i];
        double v[3];
        index_star_vector(v, &index->star[pair->catalogue]);
        right +=
            is_there(&view[0], v, list->star[pair->star].x, list->star[pair->star].y,
                     list->width) ||
            is_there(&view[1], v, list->star[pair->star].x, list->star[pair->star].y, list->width);
    }
    return 10 * right > 8 * solution->matched;
}

/* The clock may run while others have the processor: what matching and fitting took is their share
 * of the processor's time. */
static void refuse(struct outcome *out, const struct frame *frame, const struct view view[2],
                   const struct index *index)
{
    const struct solve_options nothing = {.threads = 1};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    struct error err = {0};
    double clock = bench_ms(CLOCK_MONOTONIC), own = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(solve_frame(&solution, &list, &times, frame, index, &nothing, &err), &err);
    clock = bench_ms(CLOCK_MONOTONIC) - clock;
    own = bench_ms(CLOCK_THREAD_CPUTIME_ID) - own;
    out->match_fit_ms = (times.match_ms + times.fit_ms) * fmin(1, own / clock);
    out->fit_ms = times.fit_ms;
    out->detect_ms = times.detect_ms;
    out->hypotheses = solution.hypotheses;
    out->steps = times.steps;
    out->stars = list.count;
    out->solved = solution.solved;
    out->right = solution.solved && is_right(&solution, &list, view, index);
    snprintf(out->why, sizeof out->why, "%s", solution.why);
    solution_free(&solution);
    star_list_free(&list);
}

static void attempt(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    struct frame frame;
    struct view view[2] = {0};
    out->kind = (enum kind)(run->first_kind + item / run->each);
    int number = run->first + item % run->each;
    struct random random = {bench_seed(1200 + out->kind, (unsigned)number)};
    make_picture(&frame, view, &run->sky->field, out->kind, &random);
    refuse(out, &frame, view, &run->sky->index.index);
    free(frame.luminance.value);
}

static void report(const struct outcome *outcome, int count, const char *name, const char *key,
                   const char *numbers)
{
    double *ms = bench_calloc((size_t)count, sizeof *ms), fit = 0, tried = 0, stars = 0;
    int solved = 0, wrong = 0;
    for (int i = 0; i < count; i++) {
        ms[i] = outcome[i].match_fit_ms;
        fit = fmax(fit, outcome[i].fit_ms);
        tried += (double)outcome[i].hypotheses / count;
        stars += (double)outcome[i].stars / count;
        solved += outcome[i].solved;
        wrong += outcome[i].solved && !outcome[i].right;
    }
    double median = bench_quantile(ms, count, 0.5), late = bench_quantile(ms, count, 0.999);
    printf("%-40s %5d %6d %6d %7.0f %9.0f %9.1f %9.1f %9.1f\n", name, count, solved, wrong, stars,
           tried, median, late, fit);
    char text[80];
    snprintf(text, sizeof text, "refusals.%s.median_ms", key);
    bench_note(numbers, text, median);
    snprintf(text, sizeof text, "refusals.%s.999_ms", key);
    bench_note(numbers, text, late);
    snprintf(text, sizeof text, "refusals.%s.wrong", key);
    bench_note(numbers, text, wrong);
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
    BENCH_EACH_OPTION("Pictures", "40"),
    BENCH_FIRST_OPTION,
    {"only", 0, OPTION_CHOICE, "noise|cylinder|rectangle|fisheye|trails|panels|brightened",
     "One kind of picture; default all.", AT(only), 0, 0, false, NULL, NULL},
    BENCH_LIST_OPTION,
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx",
                                .each = 40,
                                .only = KINDS,
                                .threads = parallel_processors()};
    struct bench_sky sky = {0};
    if (!bench_start(&settings, rows, argc, argv, "refusals [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    bool all = settings.only == KINDS;
    int count = (all ? KINDS : 1) * settings.each;
    struct run run = {settings.each, all ? 0 : settings.only, settings.first, &sky,
                      bench_calloc((size_t)count, sizeof *run.outcome)};
    parallel_each(count, settings.threads, attempt, &run);
    printf("%-40s %5s %6s %6s %7s %9s %9s %9s %9s\n", "", "", "solved", "wrong", "stars", "tried",
           "median ms", "99.9 %", "fit, most");
    for (int i = 0; i < count; i += settings.each) {
        enum kind kind = run.outcome[i].kind;
        report(run.outcome + i, settings.each, kinds[kind].name, kinds[kind].key, settings.numbers);
        for (int k = i; settings.list && k < i + settings.each; k++) {
            const struct outcome *o = &run.outcome[k];
            printf("  %s --first %d: %d stars, %ld tried, %ld steps, %.1f ms, fit %.1f ms, detect "
                   "%.0f ms%s %s\n",
                   kinds[kind].key, settings.first + k - i, o->stars, o->hypotheses, o->steps,
                   o->match_fit_ms, o->fit_ms, o->detect_ms,
                   o->solved ? o->right ? ", solved" : ", WRONG" : "", o->why);
        }
    }
    report(run.outcome, count, "all", "all", settings.numbers);
    free(run.outcome);
    bench_sky_free(&sky);
    return 0;
}
