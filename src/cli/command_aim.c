#include "base/parallel.h"
#include "cli/aim_report.h"
#include "cli/aim_series_report.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/frame_answers.h"
#include "cli/index_place.h"
#include "cli/learn_head_report.h"
#include "cli/learn_skyline_report.h"
#include "cli/night_plan_options.h"
#include "cli/occasion_options.h"
#include "cli/open_engine.h"
#include "cli/run_options.h"
#include "cli/terminal.h"
#include "jobs/aim_series.h"
#include "jobs/job_aim.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct aim_settings {
    struct solver_settings solver;
    struct aim_wish wish;
    const char *target, *learn, *plan;
    double black; /* NAN: not given */
    double widen_percent;
    int threads;
    bool json, verbose, require, red, learn_skyline;
};

static bool read_learn(void *member, const char *text)
{
    const char **learn = member;
    *learn = text;
    return strcmp(text, "pan") == 0 || strcmp(text, "tilt") == 0;
}

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "the target, a name or a position: \"M 31\", \"Orion Nebula\", Vega, 83.8,-5.4 or "
             "5h35m,-5d24m",
     .store = offsetof(struct aim_settings, target)},
    NIGHT_PLAN_OPTION(aim_settings, plan),
    {.name = "require",
     .help = "exit with 1 unless the target is wholly in each frame",
     .store = offsetof(struct aim_settings, require)},
    {.name = "margin",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "keep this much of the frame's shorter side free along each edge (0)",
     .low = 0,
     .high = 49,
     .store = offsetof(struct aim_settings, wish.margin_percent)},
    RUN_OPTIONS(aim_settings),
    {.name = "red",
     .help = "write in red, for dark-adapted eyes",
     .store = offsetof(struct aim_settings, red)},
    {.kind = OPTION_HEADING, .help = "Where and when, for pan and tilt"},
    RIG_PLACE_OPTION(aim_settings, solver.rig),
    OCCASION_OPTIONS(aim_settings, wish.occasion),
    {.name = "level",
     .help =
         "the camera (with --learn-head pan: the head) was levelled: check the clock against that",
     .store = offsetof(struct aim_settings, wish.level)},
    {.kind = OPTION_HEADING, .help = "The next frames"},
    {.name = "batch",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "aim ahead, so that the target is centred on average over the next N frames (the "
             "plan's, else as many as stay sharp)",
     .low = 1,
     .high = 100000,
     .store = offsetof(struct aim_settings, wish.batch)},
    {.name = "centre",
     .help = "centre it now instead",
     .store = offsetof(struct aim_settings, wish.centre)},
    {.name = "cadence",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from one frame's start to the next (from a series of frames, else exposure "
             "+ 1)",
     .low = 0.01,
     .high = 86400,
     .store = offsetof(struct aim_settings, wish.cadence_s)},
    {.name = "settle",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from this frame until the batch begins (30)",
     .low = 0,
     .high = 86400,
     .store = offsetof(struct aim_settings, wish.settle_s)},
    {.name = "widen",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "by how much stars at the edge may be wider in the stack than in one frame (10)",
     .low = 0.1,
     .high = 1000,
     .store = offsetof(struct aim_settings, widen_percent)},
    {.name = "smear",
     .kind = OPTION_NUMBER,
     .argument = "PX",
     .help = "the same as pixels by which they may miss each other",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct aim_settings, wish.accept.smear_px)},
    {.kind = OPTION_HEADING, .help = "How many frames, from this one's sky and noise"},
    {.name = "stack",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "estimate how well the target shows in a stack of N frames like this one",
     .low = 1,
     .high = 1000000,
     .store = offsetof(struct aim_settings, wish.stack)},
    {.name = "snr",
     .kind = OPTION_NUMBER,
     .argument = "RATIO",
     .help = "estimate how many frames it takes for a pixel of the target to reach that signal to "
             "noise (1, with --stack)",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct aim_settings, wish.snr)},
    {.name = "black",
     .kind = OPTION_NUMBER,
     .argument = "VALUE",
     .help = "black level of the file, as in a dark frame (camera raw states it)",
     .low = -1e6,
     .high = 1e9,
     .store = offsetof(struct aim_settings, black)},
    {.kind = OPTION_HEADING, .help = "The tripod's head"},
    {.name = "head",
     .kind = OPTION_TEXT,
     .argument = "NAME",
     .help = "the head of that name in the settings file",
     .store = offsetof(struct aim_settings, solver.rig.head)},
    {.name = "learn-head",
     .kind = OPTION_READ,
     .argument = "pan|tilt",
     .help = "measure that axis from frames taken before and after turning about it alone, and "
             "store it in the settings file",
     .store = offsetof(struct aim_settings, learn),
     .read = read_learn,
     .expected = "pan or tilt"},
    {.kind = OPTION_HEADING, .help = "Roofs and trees"},
    {.name = "learn-skyline",
     .help = "measure how high roofs and trees reach at the place, from wide frames in which they "
             "hide stars, and store it in the settings file",
     .store = offsetof(struct aim_settings, learn_skyline)},
    HINT_OPTIONS(aim_settings),
    PLACE_OPTIONS(aim_settings),
    {0},
};

static const struct aim_settings defaults = {
    .widen_percent = 10, .wish = AIM_WISH_USUAL, .black = (double)NAN};

/* What the threads share. */
struct aim_run {
    const struct aim_settings *settings;
    struct job_engine engine;
    struct job_aim_wish wish;
    struct aim_context context; /* of these two */
    struct night_plan plan;
    struct aim_series *series;
    struct skyline_sights *sights;
    bool brief;
};

static int report(FILE *out, const struct job_aim_result *result, const struct aim_run *run,
                  struct error *err)
{
    const struct aim_settings *settings = run->settings;
    const struct solved_frame *solved = &result->solved;
    const struct aim_answer *answer = &result->answer;
    bool is_solved = solved->solution.solved;
    int code = 0;
    if (is_solved) {
        aim_series_add(run->series, solved, &run->context);
    }
    if (settings->json) {
        code = aim_report_json(out, solved, answer, &run->context, err);
    } else if (is_solved) {
        aim_report_text(out, solved, answer, &run->context, run->brief, settings->verbose);
    } else {
        solve_report_failure(out, solved);
    }
    bool good = is_solved && !aim_answer_is_refused(answer) &&
                (!settings->require || answer->advice.aim.margin_kept);
    return code ? code : good ? 0 : ERROR_NO;
}

static int answer(FILE *out, const char *name, const void *context, struct error *err)
{
    const struct aim_run *run = context;
    const struct picture_source picture = picture_source_file(name);
    struct job_aim_result *result = calloc(1, sizeof *result);
    if (!result) {
        return error_memory(err);
    }
    int code = job_aim(result, &run->engine, &picture, &run->wish, NULL, err);
    if (code) {
        solve_report_unread(out, &result->solved, run->settings->json, err);
    } else {
        code = report(out, result, run, err);
    }
    job_aim_free(result);
    free(result);
    return code;
}

/* A frame that is only to be learned from. */
static int collect(FILE *out, const struct solved_frame *solved, const struct aim_run *run,
                   struct error *err)
{
    if (solved->solution.solved && run->settings->learn_skyline) {
        return skyline_sights_add(run->sights, solved, &run->context, err);
    }
    if (solved->solution.solved) {
        aim_series_add(run->series, solved, &run->context);
        return 0;
    }
    return solve_report_unsolved(out, solved, run->settings->json, err);
}

static int answer_lesson(FILE *out, const char *name, const void *context, struct error *err)
{
    const struct aim_run *run = context;
    const struct picture_source picture = picture_source_file(name);
    struct solved_frame solved = {0};
    int code = job_solve(&solved, &run->engine, &picture, &run->wish.solve, NULL, err);
    if (code) {
        solve_report_unread(out, &solved, run->settings->json, err);
    } else {
        code = collect(out, &solved, run, err);
    }
    solved_frame_free(&solved);
    return code;
}

static bool is_lesson(const struct aim_settings *settings)
{
    return settings->learn || settings->learn_skyline;
}

/* What a head or a skyline is learned from must not be where it is kept. */
static int check_learned(const struct aim_settings *settings, int frames, char **frame,
                         struct error *err)
{
    char name[4096];
    struct output output = {name, settings->learn ? "--learn-head" : "--learn-skyline",
                            .is_added_to = true};
    struct outputs outputs = {0};
    int code = rig_file_name(name, sizeof name, settings->solver.rig.file, err);
    code = code ? code : claims_add_frames(&outputs, frames, frame, err);
    code = code ? code
                : claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
                                   NULL, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

static int prepare(struct aim_run *run, int frames, char **frame, struct error *err)
{
    const struct aim_settings *settings = run->settings;
    struct solver_settings given = settings->solver;
    struct job_aim_wish *wish = &run->wish;
    if (settings->learn) {
        given.rig.head = NULL;       /* it may be a new one, */
        given.rig.may_be_new = true; /* and so may the file */
    }
    int code = occasion_options_check(&wish->aim.occasion, frames, err);
    if (!code && !is_lesson(settings)) {
        const struct night_plan_wish planned = {.option = settings->plan,
                                                .beside = frame[0],
                                                .target = settings->target,
                                                .catalogs = given.catalogs};
        code = night_plan_use(&wish->target, &wish->plan, &run->plan, &run->engine, &planned, err);
    }
    if (!code) {
        code = open_engine(&run->engine, &wish->solve, &given, err);
    }
    wish->solve.black_known = isfinite(settings->black);
    wish->solve.black = settings->black;
    run->context = job_aim_context(&run->engine, wish);
    code = code ? code : skyline_sights_open(run->sights, err);
    return code ? code : aim_series_open(run->series, frames, err);
}

static int learn_roofs(FILE *out, const struct aim_run *run, struct error *err)
{
    struct learned_skyline *learned = malloc(sizeof *learned);
    char file[4096];
    if (!learned) {
        return error_memory(err);
    }
    int code = rig_file_name(file, sizeof file, run->settings->solver.rig.file, err);
    code = code ? code : learn_skyline(learned, run->sights, &run->context, file, err);
    code = code ? code : learn_skyline_report(out, learned, run->settings->json, err);
    free(learned);
    return code;
}

static int learn(FILE *out, const struct aim_run *run, struct error *err)
{
    const struct aim_settings *settings = run->settings;
    enum head_axis which = strcmp(settings->learn, "pan") == 0 ? HEAD_PAN : HEAD_TILT;
    struct learned_head learned;
    char file[4096];
    int code = rig_file_name(file, sizeof file, settings->solver.rig.file, err);
    if (!code) {
        code = learn_head(&learned, run->series, &run->context, which, settings->solver.rig.head,
                          file, err);
    }
    return code ? code : learn_head_report(out, &learned, settings->json, err);
}

static int report_series(FILE *out, const struct aim_run *run, int frames, char **name,
                         struct error *err)
{
    struct aim_series_answer found;
    int code = aim_series_find(&found, run->series, name, frames, &run->context, err);
    code = code ? code : aim_series_report(out, &found, &run->context, run->settings->json, err);
    aim_series_answer_free(&found);
    return code;
}

static int conclude(FILE *out, const struct aim_run *run, int frames, char **name, int code,
                    struct error *err)
{
    int concluded = 0;
    struct terminal_text text;
    FILE *report = terminal_begin(&text, out);
    if (is_lesson(run->settings)) {
        concluded = code >= ERROR_USAGE    ? 0
                    : run->settings->learn ? learn(report, run, err)
                                           : learn_roofs(report, run, err);
    } else {
        concluded = report_series(report, run, frames, name, err);
    }
    terminal_end(&text);
    return concluded ? concluded : code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct aim_series series = {0};
    struct skyline_sights sights = {0};
    struct aim_run run = {
        .settings = given, .series = &series, .sights = &sights, .brief = operands > 1};
    frame_answer *way = is_lesson(run.settings) ? answer_lesson : answer;
    bool red = run.settings->red && !run.settings->json;
    run.wish.aim = run.settings->wish;
    run.wish.aim.accept.widening = run.settings->widen_percent / 100;
    run.wish.aim.occasion.today = occasion_options_today();
    int code = run.settings->learn && run.settings->learn_skyline
                   ? error_set(err, ERROR_USAGE, "give --learn-head or --learn-skyline, not both")
                   : 0;
    code = code                      ? code
           : is_lesson(run.settings) ? check_learned(run.settings, operands, operand, err)
                                     : 0;
    code = code ? code : prepare(&run, operands, operand, err);
    if (!code) {
        if (red) {
            terminal_red(out, true);
        }
        run.wish.solve.threads = parallel_share(run.settings->threads, operands);
        code = frames_answer(out, operands, operand, run.settings->threads, "alidade aim", way,
                             &run, err);
        code = conclude(out, &run, operands, operand, code, err);
        if (red) {
            terminal_red(out, false);
        }
    }
    aim_series_free(&series);
    skyline_sights_free(&sights);
    job_engine_close(&run.engine);
    return code;
}

const struct command command_aim = {
    .name = "aim",
    .summary = "Show how to turn the camera to a target, and when to do it again.",
    .operands = "FRAME...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about = "With the place and the time, the moves are those of a tripod head: first pan, then "
             "tilt. Without, they are along the picture's own sides, first right or left, then up "
             "or down. Several frames of one tripod are treated as a series: they show how often a "
             "frame is taken and whether the tripod was disturbed.\n\nNever point a lens at the "
             "Sun, and keep it out of the way to the target.",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof(struct aim_settings),
    .run = run,
};
