/* tests/bench/stack_cost.c: what it takes to lay a night's frames over each other, as a share of
 * what it takes to solve them: processor time on one thread, of each frame solved without a stack
 * and with one in turn. What reading takes longer for the sake of the stack counts as the stack's.
 */
#include "jobs/job_solve.h"
#include "jobs/night_stack.h"
#include "jobs/target.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <string.h>

enum { MOST_ROUNDS = 99 };

struct settings {
    const char *index, *numbers, *key, *target;
    int rounds;
};

static double now_ms(void)
{
    return bench_ms(CLOCK_PROCESS_CPUTIME_ID);
}

/* Ms for a solve as `watch` makes it, which knows where the frame before pointed. */
static double solve(struct solved_frame *solved, const struct job_engine *engine, const char *name,
                    const struct solve_before *before, bool keep_planes)
{
    const struct picture_source picture = picture_source_file(name);
    const struct solve_wish wish = {
        .before = before, .want_health = true, .keep_planes = keep_planes};
    struct error err = {0};
    double start = now_ms();
    bench_require(job_solve(solved, engine, &picture, &wish, NULL, &err), &err);
    if (!solved->solution.solved) {
        fprintf(stderr, "stack_cost: %s: %s\n", name, solved->solution.why);
        exit(2);
    }
    return now_ms() - start;
}

static void remember(struct solve_before *before, const struct solved_frame *solved)
{
    *before = (struct solve_before){.known = true,
                                    .pose = solved->solution.pose,
                                    .mirrored = solved->solution.mirrored,
                                    .scale_arcsec = wcs_scale_arcsec(&solved->solution.wcs)};
}

struct costs {
    double *solve, *more, *lay; /* ms: alone, more to keep the planes, laying it on the stack */
    int count;
};

static void measure_frame(struct costs *costs, struct night_stack *night,
                          struct solve_before *before, const struct job_engine *engine,
                          const char *name)
{
    struct solved_frame alone = {0}, kept = {0};
    struct night_frame note = {0};
    struct error err = {0};
    int at = costs->count++;
    costs->solve[at] = solve(&alone, engine, name, before, false);
    costs->more[at] = solve(&kept, engine, name, before, true) - costs->solve[at];
    bench_require(solved_frame_note(&note, &kept, NULL, NULL, &err), &err);
    double start = now_ms();
    bench_require(night_stack_take(night, &note, &kept, &err), &err);
    costs->lay[at] = now_ms() - start;
    remember(before, &kept);
    night_frame_free(&note);
    solved_frame_free(&alone);
    solved_frame_free(&kept);
}

static double sum(const double *value, int count)
{
    double all = 0;
    for (int i = 0; i < count; i++) {
        all += value[i];
    }
    return all;
}

/* Sums, not medians: the target's signal is not measured with every frame. */
static void report(const struct settings *s, const struct costs *costs)
{
    char key[120];
    double solve_ms = sum(costs->solve, costs->count) / costs->count;
    double more_ms = sum(costs->more, costs->count) / costs->count;
    double lay_ms = sum(costs->lay, costs->count) / costs->count;
    double share = (fmax(0, more_ms) + lay_ms) / solve_ms;
    printf(
        "%s: solving %.1f ms, keeping the planes %.1f ms more, laying them on the stack %.1f ms: "
        "%.3f of solving\n",
        s->key, solve_ms, more_ms, lay_ms, share);
    snprintf(key, sizeof key, "stack.%s.share", s->key);
    bench_note(s->numbers, key, share);
}

/* The first frame is solved from nothing, and makes the sheet: it does not count. */
static void measure(const struct settings *s, const struct job_engine *engine, char **name,
                    int names)
{
    size_t n = (size_t)s->rounds * (size_t)names;
    struct costs costs = {bench_calloc(n, sizeof(double)), bench_calloc(n, sizeof(double)),
                          bench_calloc(n, sizeof(double)), 0};
    const struct stack_wish wish = {.wanted = true};
    struct night_stack night = {0};
    struct solve_before before = {0};
    struct aim_target target = {0};
    struct error err = {0};
    bench_require(target_find(&target, &engine->atlas.objects, s->target, &err), &err);
    night_stack_open(&night, &wish, engine, &target);
    for (int i = 0; i < s->rounds * names; i++) {
        measure_frame(&costs, &night, &before, engine, name[i % names]);
        costs.count = i == 0 ? 0 : costs.count;
    }
    if (night.stack.frames != s->rounds * names) {
        fprintf(stderr, "stack_cost: only %d of %d frames were stacked\n", night.stack.frames,
                s->rounds * names);
        exit(2);
    }
    report(s, &costs);
    night_stack_free(&night);
    free(costs.solve);
    free(costs.more);
    free(costs.lay);
}

#define MEMBER(member) offsetof(struct settings, member), 0, 0, false, NULL, NULL
static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    BENCH_NUMBERS_OPTION,
    {"key", 0, OPTION_TEXT, "NAME", "What to call the numbers.", MEMBER(key)},
    {"target", 0, OPTION_TEXT, "NAME", "Default M 42.", MEMBER(target)},
    {"rounds", 0, OPTION_INTEGER, "N", "Through all frames; default 5.",
     offsetof(struct settings, rounds), 1, MOST_ROUNDS, false, NULL, NULL},
    {0},
};

int main(int argc, char **argv)
{
    struct settings s = {
        .index = "build/hipparcos.alidx", .key = "frames", .target = "M 42", .rounds = 5};
    struct option_operands rest;
    struct error err = {0};
    struct job_engine engine = {0};
    bench_require(options_parse(&s, &rest, rows, argc, argv, &err), &err);
    if (rest.help || rest.count < 1) {
        printf("usage: stack_cost [options] FRAME...\n\n");
        options_write_help(stdout, rows, 80);
        return rest.help ? 0 : 2;
    }
    bench_require(job_engine_open(&engine, s.index, "catalogs", &err), &err);
    measure(&s, &engine, rest.item, rest.count);
    job_engine_close(&engine);
    return 0;
}
