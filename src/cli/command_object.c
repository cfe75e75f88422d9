#include "base/parallel.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/drawing_options.h"
#include "cli/index_place.h"
#include "cli/object_list.h"
#include "cli/object_report.h"
#include "cli/open_engine.h"
#include "cli/solve_report.h"
#include "cli/terminal.h"
#include "jobs/job_chart.h"
#include "objects/wanderer.h"

struct object_settings {
    struct solver_settings solver;
    struct drawing_settings drawing;
    const char *output, *in;
    double field_deg;
    int most;
    bool json, csv, replace;
};

static const struct option_row options[] = {
    {.name = "in",
     .kind = OPTION_TEXT,
     .argument = "FRAME",
     .help = "instead of one object, list all that is in this frame, with pixel places",
     .store = offsetof(struct object_settings, in)},
    {.name = "json", .help = "print JSON", .store = offsetof(struct object_settings, json)},
    {.name = "csv",
     .help = "print comma-separated values; with --in",
     .store = offsetof(struct object_settings, csv)},
    {.name = "most",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "with --in, list at most N objects and N stars, the most notable first",
     .store = offsetof(struct object_settings, most),
     .low = 1,
     .high = 100000},
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "draw a chart of it, as .png, .jpg, .svg or .pdf",
     .store = offsetof(struct object_settings, output)},
    OUTPUTS_REPLACE_OPTION(object_settings, replace),
    {.name = "field",
     .kind = OPTION_NUMBER,
     .argument = "DEG",
     .help = "width of the chart (twice that of your frame)",
     .store = offsetof(struct object_settings, field_deg),
     .low = 0.1,
     .high = 140},
    DRAWING_OPTIONS(object_settings, drawing),
    RIG_PLACE_OPTION(object_settings, solver.rig),
    HINT_OPTIONS(object_settings),
    PLACE_OPTIONS(object_settings),
    {0},
};

static int write_chart(struct job_engine *engine, const struct object *object,
                       const struct object_settings *settings, struct job_chart_wish *wish,
                       struct error *err)
{
    struct overlay_report report;
    int code = open_engine_indexes(engine, &settings->solver, err);
    code = code ? code : drawing_format_of(&wish->format, settings->output, err);
    return code ? code : job_chart(&report, engine, object, wish, NULL, err);
}

static int report_object(struct job_engine *engine, const struct object *object,
                         const struct object_settings *settings, FILE *out, struct error *err)
{
    struct job_chart_wish wish = {.occasion = settings->drawing.occasion,
                                  .focal_mm = settings->solver.hints.focal_mm,
                                  .field_deg = settings->field_deg,
                                  .output.name = settings->output};
    struct other_frame frame;
    wish.occasion.today = occasion_options_today();
    int code = drawing_options_read(&wish.drawing, &settings->drawing, err);
    code = code ? code
                : open_engine_rig(engine, &settings->solver.rig, settings->solver.catalogs, err);
    if (!code && settings->output) {
        code = write_chart(engine, object, settings, &wish, err);
    }
    if (code) {
        return code;
    }
    job_chart_frame(&frame, engine, &wish);
    if (settings->json) {
        return object_report_json(out, object, &frame, &engine->atlas, err);
    }
    object_report_text(out, object, &frame, &engine->atlas);
    return 0;
}

/* Where it is now, or at the time that was given, which the chart is then of. */
static int report_wanderer(struct job_engine *engine, enum wanderer which,
                           const struct object_settings *settings, FILE *out, struct error *err)
{
    static const struct frame_facts nothing;
    struct object_settings then = *settings;
    struct occasion_settings *when = &then.drawing.occasion;
    struct occasion occasion;
    struct object object;
    int code = open_engine_rig(engine, &settings->solver.rig, settings->solver.catalogs, err);
    if (!code && !when->taken.known) {
        when->taken = time_stamp_utc(occasion_options_today(), 0);
    }
    code = code ? code : occasion_find_known(&occasion, &nothing, &engine->rig.rig, when, err);
    if (code) {
        return code;
    }
    if (!wanderer_object(&object, which, occasion.has_place ? &occasion.place : NULL,
                         occasion.mid)) {
        return error_set(err, ERROR_USAGE, "--time: the sky of that time cannot be computed");
    }
    if (!settings->json) {
        char date[48];
        occasion_write_date(date, sizeof date, &occasion);
        fprintf(out, "At %s:\n", date);
    }
    return report_object(engine, &object, &then, out, err);
}

static int list_frame(struct job_engine *engine, const struct object_settings *settings, FILE *out,
                      struct error *err)
{
    enum list_format format = settings->json ? LIST_JSON : settings->csv ? LIST_CSV : LIST_TEXT;
    const struct picture_source picture = picture_source_file(settings->in);
    struct occasion_settings when = settings->drawing.occasion;
    struct solve_wish wish = {0};
    struct solved_frame solved = {0};
    struct occasion occasion;
    when.today = occasion_options_today();
    wish.threads = parallel_share(0, 1);
    int code = open_engine(engine, &wish, &settings->solver, err);
    code = code ? code : job_solve(&solved, engine, &picture, &wish, NULL, err);
    if (!code && solved.solution.solved) {
        code = occasion_find_known(&occasion, &solved.frame.facts, &engine->rig.rig, &when, err);
        code = code ? code
                    : object_list_write(out, &solved, &occasion, &engine->atlas, format,
                                        settings->most, true, err);
    } else if (!code && settings->json) {
        code = object_list_unsolved(out, &solved, err);
        code = code ? code : ERROR_NO;
    } else if (!code) {
        solve_report_failure(out, &solved);
        code = ERROR_NO;
    }
    solved_frame_free(&solved);
    return code;
}

static int report_named(struct job_engine *engine, const char *name,
                        const struct object_settings *settings, FILE *out, struct error *err)
{
    if (wanderer_find(name)) {
        return report_wanderer(engine, wanderer_find(name), settings, out, err);
    }
    const struct object *object = objects_look_up(&engine->atlas.objects, name, err);
    return object ? report_object(engine, object, settings, out, err) : err->code;
}

static int check_output(const struct object_settings *settings, struct error *err)
{
    const struct output output = {settings->output, "--output",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    struct outputs outputs = {.replace = settings->replace};
    int code = claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
                                &settings->solver.rig, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

/* One object, or a frame full of them. */
static int check(const struct object_settings *settings, int operands, struct error *err)
{
    enum drawing_format format;
    struct drawing_wish wish;
    if (settings->in && (operands > 0 || settings->output)) {
        return error_set(err, ERROR_USAGE,
                         "--in lists what is in a frame: it goes without a name and without "
                         "--output");
    }
    if (!settings->in && operands == 0) {
        return error_set(err, ERROR_USAGE, "expected the name of an object, or --in FRAME");
    }
    if (settings->csv && (!settings->in || settings->json)) {
        return error_set(err, ERROR_USAGE, "--csv goes with --in, and not with --json");
    }
    int code = drawing_options_read(&wish, &settings->drawing, err);
    code = code ? code : occasion_options_check(&settings->drawing.occasion, 1, err);
    code = code || !settings->output ? code : drawing_format_of(&format, settings->output, err);
    return code || !settings->output ? code : check_output(settings, err);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    const struct object_settings *settings = given;
    struct job_engine engine = {0};
    struct terminal_text text;
    char place[4096];
    int code = check(settings, operands, err);
    code = code ? code : catalogs_place(place, sizeof place, settings->solver.catalogs, err);
    code = code ? code : job_engine_add_atlas(&engine, place, err);
    FILE *report = terminal_begin(&text, out);
    if (!code && settings->in) {
        code = list_frame(&engine, settings, report, err);
    } else if (!code) {
        code = report_named(&engine, operand[0], settings, report, err);
    }
    terminal_end(&text);
    job_engine_close(&engine);
    return code;
}

const struct command command_object = {
    .name = "object",
    .summary = "Describe an object, chart it, or list all that is in a frame.",
    .operands = "[NAME]",
    .least = 0,
    .most = 1,
    .about =
        "The chart shows the object in the middle, north up, as your camera and lens would frame "
        "it: those of the settings file, or --frame-of 250,22.2x14.8. It needs no photograph. "
        "Stars can be named by proper name, Bayer letter, HD or Hipparcos number: Vega, \"alf "
        "Lyr\", \"HIP 5\".\n\nMagnitudes of nebulae are often those of the stars in them.",
    .options = options,
    .settings_size = sizeof(struct object_settings),
    .run = run,
};
