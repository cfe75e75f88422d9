#include "cli/aim_depth.h"
#include "cli/aim_report.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/find_target.h"
#include "cli/frame_queue.h"
#include "cli/index_place.h"
#include "cli/learn_head.h"
#include "cli/run_options.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
     .help = "what should be in the middle: \"M 31\", \"Orion Nebula\", Vega, or a position like "
             "83.8,-5.4 or 5h35m,-5d24m",
     .store = offsetof(struct aim_settings, target)},
    {.name = "require",
     .help = "exit with 1 unless the target is wholly in each frame",
     .store = offsetof(struct aim_settings, require)},
    {.name = "margin",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "part of the frame's shorter side to be kept free along each edge (0)",
     .low = 0,
     .high = 49,
     .store = offsetof(struct aim_settings, margin_percent)},
    RUN_OPTIONS(aim_settings),
    {.kind = OPTION_HEADING, .help = "Where and when, for pan and tilt"},
    RIG_PLACE_OPTION(aim_settings, hints.rig),
    OCCASION_OPTIONS(aim_settings, occasion),
    {.name = "level",
     .help = "the camera (with --learn-head pan: the head) was levelled: say what that tells of "
             "the clock",
     .store = offsetof(struct aim_settings, level)},
    {.kind = OPTION_HEADING, .help = "The next frames"},
    {.name = "batch",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "aim so that the target is centred on average over the next N frames",
     .low = 1,
     .high = 100000,
     .store = offsetof(struct aim_settings, batch)},
    {.name = "cadence",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from one frame's start to the next (from a series of frames, else exposure "
             "+ 1)",
     .low = 0.01,
     .high = 86400,
     .store = offsetof(struct aim_settings, every_s)},
    {.name = "settle",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from this frame until the batch begins (30)",
     .low = 0,
     .high = 86400,
     .store = offsetof(struct aim_settings, settle_s)},
    {.name = "smear",
     .kind = OPTION_NUMBER,
     .argument = "PX",
     .help = "smear of stars at the edge that you bear in a stack (1)",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct aim_settings, smear_px)},
    {.kind = OPTION_HEADING, .help = "How many frames, from this one's sky and noise"},
    {.name = "stack",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "say how well the target shows in a stack of N frames like this one",
     .low = 1,
     .high = 1000000,
     .store = offsetof(struct aim_settings, stack)},
    {.name = "snr",
     .kind = OPTION_NUMBER,
     .argument = "RATIO",
     .help = "say how many frames it takes until a pixel of the target has that signal to noise "
             "(1, with --stack)",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct aim_settings, snr)},
    {.name = "black",
     .kind = OPTION_NUMBER,
     .argument = "VALUE",
     .help = "level of the file's pixels without light, as a dark frame has it (camera raw tells "
             "it)",
     .low = -1e6,
     .high = 1e9,
     .store = offsetof(struct aim_settings, black)},
    {.kind = OPTION_HEADING, .help = "The tripod's head"},
    {.name = "head",
     .kind = OPTION_TEXT,
     .argument = "NAME",
     .help = "the head of that name in the settings file",
     .store = offsetof(struct aim_settings, hints.rig.head)},
    {.name = "learn-head",
     .kind = OPTION_READ,
     .argument = "pan|tilt",
     .help = "find that axis from frames taken before and after turning about it alone, and keep "
             "it in the settings file",
     .store = offsetof(struct aim_settings, learn),
     .read = read_learn,
     .expected = "pan or tilt"},
    HINT_OPTIONS(aim_settings),
    PLACE_OPTIONS(aim_settings),
    {0},
};

static const struct aim_settings defaults = {.settle_s = 30,
                                             .smear_px = 1,
                                             .level_deg = 0.5,
                                             .black = (double)NAN,
                                             .occasion.temperature_c = 10};

/* What the threads share. */
struct aim_run {
    struct aim_context context;
    struct aim_series *series;
    bool brief;
};

static int report(FILE *out, const struct solved_frame *solved, const struct aim_run *run,
                  struct error *err)
{
    const struct aim_context *context = &run->context;
    const struct aim_settings *settings = context->settings;
    bool is_solved = solved->solution.solved;
    struct aim_answer *answer = calloc(1, sizeof *answer);
    if (!answer) {
        return error_memory(err);
    }
    if (is_solved) {
        aim_answer_find(answer, solved, context, 0);
        if (aim_depth_wanted(settings) && !answer->sun_there) {
            aim_depth_find(answer, solved, context);
        }
        aim_series_add(run->series, solved, context);
    }
    int code = 0;
    if (settings->json) {
        code = aim_report_json(out, solved, answer, context, err);
    } else if (is_solved) {
        aim_report_text(out, solved, answer, context, run->brief);
    } else {
        solve_report_failure(out, solved);
    }
    bool good =
        is_solved && !answer->sun_there && (!settings->require || answer->advice.aim.margin_kept);
    free(answer);
    return code ? code : good ? 0 : ERROR_NO;
}

/* A frame that is only to be learned from. */
static int collect(FILE *out, const struct solved_frame *solved, const struct aim_run *run,
                   struct error *err)
{
    if (solved->solution.solved) {
        aim_series_add(run->series, solved, &run->context);
        return 0;
    }
    if (run->context.settings->json) {
        return solve_report_json(out, solved, err);
    }
    solve_report_failure(out, solved);
    return ERROR_NO;
}

static int answer(FILE *out, const char *name, const void *context, struct error *err)
{
    const struct aim_run *run = context;
    const struct aim_settings *settings = run->context.settings;
    struct solved_frame solved = {0};
    int code = frame_solve(&solved, name, &run->context.solver, err);
    if (code) {
        solve_report_unread(out, &solved, settings->json, err);
    } else {
        code = settings->learn ? collect(out, &solved, run, err) : report(out, &solved, run, err);
    }
    solved_frame_free(&solved);
    return code;
}

/* What a head is learned from must not be where it is kept. */
static int check_learned(const struct aim_settings *settings, int frames, char **frame,
                         struct error *err)
{
    char name[4096];
    struct output output = {name, "--learn-head", .is_added_to = true};
    struct outputs outputs = {0};
    int code = rig_file_name(name, sizeof name, settings->hints.rig.file, err);
    code = code ? code : claims_add_frames(&outputs, frames, frame, err);
    code = code ? code : claims_add_usual(&outputs, settings->index, settings->catalogs, NULL, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

static int prepare(struct aim_run *run, struct hint_settings *hints, int frames, struct error *err)
{
    const struct aim_settings *settings = run->context.settings;
    *hints = settings->hints;
    if (settings->learn) {
        hints->rig.head = NULL;       /* it may be a new one, */
        hints->rig.may_be_new = true; /* and so may the file */
    }
    int code = occasion_check(&settings->occasion, frames, err);
    if (!code && !settings->learn) {
        code = target_find(&run->context, err);
    }
    if (!code) {
        code = solver_open(&run->context.solver, settings->index, settings->catalogs, hints, err);
    }
    run->context.solver.want_health = !settings->learn && aim_depth_wanted(settings);
    run->context.solver.black_known = isfinite(settings->black);
    run->context.solver.black = settings->black;
    return code ? code : aim_series_open(run->series, frames, err);
}

static int conclude(FILE *out, const struct aim_run *run, int frames, char **name, int code,
                    struct error *err)
{
    const struct aim_settings *settings = run->context.settings;
    if (settings->learn && code < ERROR_USAGE) {
        int learned = learn_head(out, run->series, &run->context, settings->hints.rig.head, err);
        return learned ? learned : code;
    }
    int said =
        settings->learn ? 0 : aim_series_report(out, run->series, name, frames, &run->context, err);
    return said ? said : code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct aim_series series = {0};
    struct hint_settings hints;
    struct aim_run run = {.context.settings = given, .series = &series, .brief = operands > 1};
    int code = run.context.settings->learn
                   ? check_learned(run.context.settings, operands, operand, err)
                   : 0;
    code = code ? code : prepare(&run, &hints, operands, err);
    if (!code) {
        code = frames_answer(out, operands, operand, run.context.settings->threads, "alidade aim",
                             answer, &run, err);
        code = conclude(out, &run, operands, operand, code, err);
    }
    aim_series_free(&series);
    solver_close(&run.context.solver);
    objects_free(&run.context.objects);
    return code;
}

const struct command command_aim = {
    .name = "aim",
    .summary = "Say how to turn the camera to a target, and when to do it again.",
    .operands = "FRAME...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about =
        "With the place and the time, the moves are those of a tripod head: first pan, then tilt. "
        "Without, they are along the picture's own sides, first right or left, then up or down. "
        "Several frames of one tripod are taken as a series: they tell how often a frame is taken "
        "and whether the tripod stood still.\n\nNever point a lens at the Sun, and keep it out of "
        "the way to the target.",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof(struct aim_settings),
    .run = run,
};
