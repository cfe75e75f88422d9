#include "cli/aim_report.h"
#include "cli/cli_commands.h"
#include "cli/frame_queue.h"
#include "cli/index_place.h"
#include "cli/run_options.h"

#include "base/text.h"

struct aim_settings {
    struct hint_settings hints;
    const char *index, *catalogs, *target;
    double margin_percent;
    int threads;
    bool json, verbose, require;
};

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "what should be in the middle: \"M 31\", \"Orion Nebula\", Vega, or a position like "
             "83.8,-5.4 or 5h35m,-5d24m",
     .required = true,
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
    HINT_OPTIONS(aim_settings),
    PLACE_OPTIONS(aim_settings),
    {0},
};

/* What the threads share. */
struct aim_run {
    const struct aim_settings *settings;
    struct solver solver;
    struct aim_target target;
};

static int report(FILE *out, const struct solved_frame *solved, const struct aim_run *run,
                  struct error *err)
{
    const struct aim_settings *settings = run->settings;
    struct aim aim = {0};
    bool is_solved = solved->solution.solved;
    if (is_solved) {
        aim_measure(&aim, &run->target, &solved->solution.wcs, settings->margin_percent / 100);
    }
    int code = 0;
    if (settings->json) {
        code = aim_report_json(out, solved, &run->target, &aim, err);
    } else if (is_solved) {
        aim_report_text(out, solved, &run->target, &aim, settings->verbose);
    } else {
        solve_report_failure(out, solved);
    }
    if (code) {
        return code;
    }
    bool good = is_solved && (!settings->require || aim.margin_kept);
    return good ? 0 : ERROR_NO;
}

static int answer(FILE *out, const char *name, const void *context, struct error *err)
{
    const struct aim_run *run = context;
    struct solved_frame solved = {0};
    int code = frame_solve(&solved, name, &run->solver, err);
    if (code) {
        solve_report_unread(out, &solved, run->settings->json, err);
    } else {
        code = report(out, &solved, run, err);
    }
    solved_frame_free(&solved);
    return code;
}

static int find_named(struct aim_target *target, const struct aim_settings *settings,
                      struct error *err)
{
    char place[4096];
    struct objects objects = {0};
    int code = catalogs_place(place, sizeof place, settings->catalogs, err);
    if (!code) {
        code = objects_load(&objects, place, err);
    }
    if (!code) {
        const struct object *object = objects_find(&objects, settings->target);
        if (object) {
            aim_target_object(target, object);
        } else {
            objects_unknown(&objects, settings->target, err);
            code = err->code = ERROR_USAGE;
        }
    }
    objects_free(&objects);
    return code;
}

static int find_target(struct aim_target *target, const struct aim_settings *settings,
                       struct error *err)
{
    double ra, dec;
    if (text_read_radec(&ra, &dec, settings->target)) {
        aim_target_radec(target, ra, dec);
        return 0;
    }
    return find_named(target, settings, err);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct aim_run run = {.settings = given};
    int code = find_target(&run.target, run.settings, err);
    if (!code) {
        code = solver_open(&run.solver, run.settings->index, &run.settings->hints, err);
    }
    if (!code) {
        code = frames_answer(out, operands, operand, run.settings->threads, "alidade aim", answer,
                             &run, err);
    }
    solver_close(&run.solver);
    return code;
}

const struct command command_aim = {
    .name = "aim",
    .summary = "Say whether a target is in a frame and how to turn the camera to it.",
    .operands = "FRAME...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about = "Right and up are those of the picture, and the turns are made about the camera's own "
             "axes: first right or left, then up or down. The first answers how far; the fraction "
             "of the frame says it for the display on the camera's back.",
    .options = options,
    .settings_size = sizeof(struct aim_settings),
    .run = run,
};
