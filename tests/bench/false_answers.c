/* tests/bench/false_answers.c: star lists that have no answer. How many are answered all the same,
 * and is the chance that the search states true: of many attempts, no more than a share p may end
 * with a best chance below p. */
#include "base/parallel.h"
#include "demo/model_stars.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>

enum kind { NOISE, SCRAMBLED, LIGHTS, GRID, KINDS };
static const char *const kind_name[KINDS] = {"noise", "scrambled sky", "city lights", "grid"};
static const double limit[] = {1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6};
enum { LIMITS = sizeof limit / sizeof limit[0], MOST_STARS = 4000 };

struct outcome {
    enum kind kind;
    bool solved, hinted;
    int number, stars, pairs, stage;
    double chance_log10, cpu_ms;
    long hypotheses;
};

struct run {
    int first, step; /* numbers of the attempts */
    const struct bench_sky *sky;
    struct outcome *outcome;
};

/* A list under construction: fluxes and shapes come last. */
struct maker {
    struct star_list *list;
    struct random *random;
};

static void add_point(struct maker *m, double x, double y)
{
    struct star_list *list = m->list;
    if (list->count < MOST_STARS && x >= 0 && y >= 0 && x < list->width && y < list->height) {
        list->star[list->count++] = (struct star){.x = x, .y = y};
    }
}

static void add_noise(struct maker *m, int count)
{
    for (int i = 0; i < count; i++) {
        add_point(m, random_between(m->random, 0, m->list->width),
                  random_between(m->random, 0, m->list->height));
    }
}

/* Lamps along a straight street, seen in perspective or not, not quite evenly spaced. */
static void add_street(struct maker *m, int count)
{
    struct random *r = m->random;
    double x = random_between(r, 0, m->list->width), y = random_between(r, 0, m->list->height);
    double angle = random_between(r, 0, 2 * PI), step = 0.5 * m->list->width / count;
    double shrink = random_uniform(r) < 0.5 ? 1 : random_between(r, 0.9, 1);
    double jitter = random_uniform(r) < 0.5 ? 0.5 : 0.1 * step;
    for (int i = 0; i < count; i++) {
        add_point(m, x + jitter * random_normal(r), y + jitter * random_normal(r));
        x += step * cos(angle);
        y += step * sin(angle);
        step *= shrink;
    }
}

static void add_cluster(struct maker *m, int count)
{
    struct random *r = m->random;
    double x = random_between(r, 0, m->list->width), y = random_between(r, 0, m->list->height);
    double spread = bench_log_between(r, 0.005, 0.1) * m->list->width;
    for (int i = 0; i < count; i++) {
        add_point(m, x + spread * random_normal(r), y + spread * random_normal(r));
    }
}

static void add_lights(struct maker *m, int count)
{
    while (count > 0) {
        int part = (int)bench_log_between(m->random, 2, fmax(3, 0.4 * count));
        part = part > count ? count : part;
        double which = random_uniform(m->random);
        if (which < 0.45) {
            add_street(m, part);
        } else if (which < 0.9) {
            add_cluster(m, part);
        } else {
            add_noise(m, part);
        }
        count -= part;
    }
}

/* Windows of a house: a turned grid, some of them dark. */
static void add_grid(struct maker *m, int count)
{
    struct random *r = m->random;
    double angle = random_between(r, 0, PI / 2), lit = random_between(r, 0.4, 1);
    double step = sqrt(m->list->width * m->list->height * lit / count);
    double shape = random_between(r, 0.7, 1.4), jitter = bench_log_between(r, 0.05, 2);
    int half = (int)(hypot(m->list->width, m->list->height) / step) + 1;
    for (int j = -half; j <= half; j++) {
        for (int i = -half; i <= half; i++) {
            double u = i * step * shape, v = j * step / shape;
            if (random_uniform(r) < lit) {
                add_point(m,
                          0.5 * m->list->width + u * cos(angle) - v * sin(angle) +
                              jitter * random_normal(r),
                          0.5 * m->list->height + u * sin(angle) + v * cos(angle) +
                              jitter * random_normal(r));
            }
        }
    }
}

static int brightest_first(const void *a, const void *b)
{
    const struct star *s = a, *t = b;
    return s->flux > t->flux ? -1 : s->flux < t->flux;
}

/* Counts that grow threefold a magnitude, as those of stars do, or all lamps alike. */
static void give_light(struct star_list *list, struct random *r)
{
    double power = random_uniform(r) < 0.7 ? 1 / 1.19 : 0.1;
    double size = random_between(r, 1, 2.5), elongation = random_between(r, 1, 3);
    for (int i = 0; i < list->count; i++) {
        struct star *star = &list->star[i];
        star->flux = 100 * pow(1 - random_uniform(r), -power);
        star->snr = star->flux / 15;
        star->size = size;
        star->elongation = elongation;
        star->peak = star->flux / (7.2 * size * size * elongation);
    }
    qsort(list->star, (size_t)list->count, sizeof *list->star, brightest_first);
}

/* A detector sees one where two are closer than this, px. */
static const double least_distance = 5;

/* Drops what is too near to something brighter; sorted lists only. */
static void blend(struct star_list *list)
{
    int left = 0;
    for (int i = 0; i < list->count; i++) {
        const struct star *star = &list->star[i];
        bool lost = false;
        for (int j = 0; j < left && !lost; j++) {
            lost = hypot(list->star[j].x - star->x, list->star[j].y - star->y) < least_distance;
        }
        if (!lost) {
            list->star[left++] = *star;
        }
    }
    list->count = left;
}

static void make_points(struct star_list *list, struct random *r, enum kind kind)
{
    struct maker m = {list, r};
    int count = (int)bench_log_between(r, 6, 1500);
    list->width = floor(bench_log_between(r, 800, 8000));
    list->height = floor(list->width * random_between(r, 0.55, 0.8));
    list->star = bench_calloc(MOST_STARS, sizeof *list->star);
    if (kind == NOISE) {
        add_noise(&m, count);
    } else if (kind == LIGHTS) {
        add_lights(&m, count);
    } else {
        add_grid(&m, count);
    }
    give_light(list, r);
    blend(list);
}

static void make_scrambled(struct star_list *list, struct random *r, const struct starfield *field)
{
    double v[3];
    struct camera camera = bench_camera(r, bench_log_between(r, 2, 80));
    struct model_options options = {.lens = bench_lens(r, &camera),
                                    .position_noise_px = 0.3,
                                    .mag_noise = 0.1,
                                    .colour_term = 0.3,
                                    .blend_px = 6,
                                    .exposure_s = camera.exposure_s};
    struct model_stars model = {0};
    struct error err = {0};
    options.max_stars = (int)bench_log_between(r, 12, 1500);
    random_direction(r, v);
    vector_to_radec(&options.ra_deg, &options.dec_deg, v);
    options.seed = random_bits(r);
    bench_require(model_star_list(&model, field, &options, &err), &err);
    *list = model.list;
    model.list = (struct star_list){0};
    model_stars_free(&model);
    bench_scramble(list, r);
}

/* One attempt in four believes to know its scale, so that the search runs twice. */
static struct solve_options make_hint(struct random *r, const struct star_list *list)
{
    struct solve_options options = {0};
    if (random_uniform(r) < 0.25) {
        options.scale_arcsec = bench_log_between(r, 2, 60) * 3600 / list->width;
        options.scale_tolerance = random_between(r, 0.02, 0.2);
    }
    return options;
}

static void attempt(int item, void *context)
{
    const struct run *run = context;
    struct outcome *out = &run->outcome[item];
    unsigned number = (unsigned)(run->first + item * run->step);
    struct random random = {bench_seed(1000, number)};
    struct star_list list = {0};
    struct solution solution = {0};
    struct error err = {0};
    out->number = (int)number;
    out->kind = (enum kind)(number % KINDS);
    if (out->kind == SCRAMBLED) {
        make_scrambled(&list, &random, &run->sky->field);
    } else {
        make_points(&list, &random, out->kind);
    }
    struct solve_options options = make_hint(&random, &list);
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(solve_stars(&solution, &list, &run->sky->index.index, &options, &err), &err);
    out->cpu_ms = bench_ms(CLOCK_THREAD_CPUTIME_ID) - start;
    out->hinted = options.scale_arcsec > 0;
    out->solved = solution.solved;
    out->stars = list.count;
    out->pairs = solution.matched;
    out->stage = solution.stage;
    out->chance_log10 = solution.chance_log10;
    out->hypotheses = solution.hypotheses;
    solution_free(&solution);
    star_list_free(&list);
}

/* Of the attempts of one kind (KINDS: of all), how many had a best chance below p. */
static int count_below(const struct outcome *outcome, int attempts, int kind, double p, int *of)
{
    int below = 0;
    *of = 0;
    for (int i = 0; i < attempts; i++) {
        if (kind == KINDS || outcome[i].kind == (enum kind)kind) {
            (*of)++;
            below += outcome[i].chance_log10 < log10(p);
        }
    }
    return below;
}

static void report_chances(const struct outcome *outcome, int attempts, const char *numbers)
{
    printf("\nAttempts whose best chance ended below p, and how many may (p times attempts)\n%-16s",
           "p");
    for (int l = 0; l < LIMITS; l++) {
        printf("  %13.0e", limit[l]);
    }
    for (int kind = 0; kind <= KINDS; kind++) {
        printf("\n%-16s", kind == KINDS ? "all" : kind_name[kind]);
        for (int l = 0; l < LIMITS; l++) {
            int of, below = count_below(outcome, attempts, kind, limit[l], &of);
            printf("  %5d /%7.1f", below, limit[l] * of);
            if (kind == KINDS && of > 0) {
                char key[60];
                snprintf(key, sizeof key, "false.below_1e-%d_over_expected", l + 1);
                bench_note(numbers, key, below / (limit[l] * of));
                snprintf(key, sizeof key, "false.below_1e-%d", l + 1);
                bench_note(numbers, key, below);
            }
        }
    }
    printf("\n");
}

static void report_times(const struct outcome *outcome, int attempts, const char *numbers)
{
    double *ms = bench_calloc((size_t)attempts, sizeof *ms), sum = 0;
    for (int i = 0; i < attempts; i++) {
        ms[i] = outcome[i].cpu_ms;
        sum += ms[i];
    }
    double median = bench_quantile(ms, attempts, 0.5), late = bench_quantile(ms, attempts, 0.99);
    double longest = bench_quantile(ms, attempts, 1);
    printf("\nGiving up, ms of processor time: median %.1f, 99 %% %.1f, longest %.1f; mean %.1f\n",
           median, late, longest, sum / attempts);
    bench_note(numbers, "false.give_up_median_ms", median);
    bench_note(numbers, "false.give_up_99_ms", late);
    bench_note(numbers, "false.give_up_longest_ms", longest);
    free(ms);
}

static int report_accepted(const struct outcome *outcome, int attempts, bool close)
{
    int accepted = 0;
    for (int i = 0; i < attempts; i++) {
        const struct outcome *o = &outcome[i];
        accepted += o->solved;
        if (o->solved || (close && o->chance_log10 < -3)) {
            printf("  %s --first %d --attempts 1: %s, %d stars, %ld hypotheses, best chance 1e%.1f",
                   o->solved ? "ACCEPTED" : "close", o->number, kind_name[o->kind], o->stars,
                   o->hypotheses, o->chance_log10);
            printf(o->solved ? ", stage %d, %d pairs\n" : "\n", o->stage, o->pairs);
        }
    }
    return accepted;
}

struct settings {
    const char *index, *numbers;
    bool quick, close;
    int attempts, first, threads, only;
};

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    {"quick", 0, OPTION_FLAG, NULL, "1500 attempts.", AT(quick), 0, 0, false, NULL, NULL},
    {"attempts", 0, OPTION_INTEGER, "N", "Default 50000.", AT(attempts), 1, 100000000, false, NULL,
     NULL},
    BENCH_FIRST_OPTION,
    {"close", 0, OPTION_FLAG, NULL, "Also list those with a chance below 0.001.", AT(close), 0, 0,
     false, NULL, NULL},
    {"only", 0, OPTION_CHOICE, "noise|scrambled|lights|grid", "One kind of list; default all.",
     AT(only), 0, 0, false, NULL, NULL},
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx",
                                .attempts = 50000,
                                .only = KINDS,
                                .threads = parallel_processors()};
    struct bench_sky sky = {0};
    if (!bench_start(&settings, rows, argc, argv,
                     "false_answers [options]\n\nExits 1 if an answer is accepted.")) {
        return 0;
    }
    int attempts = settings.quick ? 1500 : settings.attempts;
    bench_sky_load(&sky, settings.index);
    bool all = settings.only == KINDS;
    struct run run = {.first = settings.first - (all ? 0 : settings.first % KINDS - settings.only),
                      .step = all ? 1 : KINDS,
                      .sky = &sky,
                      .outcome = bench_calloc((size_t)attempts, sizeof *run.outcome)};
    parallel_each(attempts, settings.threads, attempt, &run);
    int accepted = report_accepted(run.outcome, attempts, settings.close);
    printf("%d attempts on lists without an answer: %d accepted\n", attempts, accepted);
    report_chances(run.outcome, attempts, settings.numbers);
    report_times(run.outcome, attempts, settings.numbers);
    bench_note(settings.numbers, "false.attempts", attempts);
    bench_note(settings.numbers, "false.accepted", accepted);
    free(run.outcome);
    bench_sky_free(&sky);
    return accepted > 0;
}
