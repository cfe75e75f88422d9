#include "base/parallel.h"
#include "base/utf8.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/drawing_options.h"
#include "cli/index_place.h"
#include "cli/night_plan_options.h"
#include "cli/open_engine.h"
#include "cli/solve_report.h"
#include "cli/terminal.h"
#include "jobs/job_annotate.h"

struct annotate_settings {
    struct solver_settings solver;
    struct drawing_settings drawing;
    const char *output, *target, *plan;
    bool alone, replace;
};

static const struct option_row options[] = {
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "output file; its extension chooses the format: .png, .jpg, .svg or .pdf",
     .required = true,
     .store = offsetof(struct annotate_settings, output)},
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "what the picture is of: named first in the caption, and always marked (the plan's)",
     .store = offsetof(struct annotate_settings, target)},
    NIGHT_PLAN_OPTION(annotate_settings, plan),
    {.name = "alone",
     .help = "drawing only, on a transparent background, to overlay on the picture (not as .jpg)",
     .store = offsetof(struct annotate_settings, alone)},
    OUTPUTS_REPLACE_OPTION(annotate_settings, replace),
    DRAWING_OPTIONS(annotate_settings, drawing),
    RIG_PLACE_OPTION(annotate_settings, solver.rig),
    HINT_OPTIONS(annotate_settings),
    PLACE_OPTIONS(annotate_settings),
    {0},
};

/* What would make the work vain is found before it. */
static int check_output(struct job_annotate_wish *wish, const struct annotate_settings *settings,
                        char **frame, struct error *err)
{
    const struct output output = {settings->output, "--output",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    struct outputs outputs = {.replace = settings->replace};
    int code = drawing_format_of(&wish->format, settings->output, err);
    code = code ? code : drawing_options_read(&wish->drawing, &settings->drawing, err);
    code = code ? code : occasion_options_check(&settings->drawing.occasion, 1, err);
    code = code ? code : job_annotate_check(wish, err);
    code = code ? code : claims_add_frames(&outputs, 1, frame, err);
    code = code ? code
                : claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
                                   &settings->solver.rig, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

static void write_count(FILE *out, const char *before, int count, const char *what)
{
    fprintf(out, "%s%d %s%s", before, count, what, count == 1 ? "" : "s");
}

static void report_drawing(FILE *out, const struct overlay_report *report,
                           const struct annotate_settings *settings)
{
    utf8_write_shown(out, settings->output);
    fputs(": ", out);
    write_count(out, "", report->objects, "object");
    write_count(out, " and ", report->stars, "star");
    fprintf(out, " named");
    if (report->bodies) {
        fprintf(out, ", %d of Sun, Moon and planets", report->bodies);
    }
    fprintf(out, "\n");
    if (settings->drawing.other.focal_mm > 0 && !report->other_drawn) {
        fprintf(out, "  the frame of %g mm is larger than this picture: not drawn\n",
                settings->drawing.other.focal_mm);
    }
}

static void report_target(FILE *out, const struct job_annotate_result *result,
                          const struct job_annotate_wish *wish)
{
    char text[300];
    if (result->has_target) {
        aim_write_verdict(text, sizeof text, &result->aim, &result->target);
        fprintf(out, "  %s\n", text);
    } else if (wish->target.name[0]) {
        fprintf(out, "  %s moves among the stars, and it is not known when this was taken\n",
                wish->target.name);
    }
}

static int answer(FILE *out, const struct job_annotate_result *result,
                  const struct job_annotate_wish *wish, const struct annotate_settings *settings)
{
    if (!result->solved.solution.solved) {
        solve_report_failure(out, &result->solved);
        return ERROR_NO;
    }
    report_drawing(out, &result->report, settings);
    report_target(out, result, wish);
    return 0;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    (void)operands;
    const struct annotate_settings *settings = given;
    const struct picture_source picture = picture_source_file(operand[0]);
    struct job_engine engine = {0};
    struct job_annotate_result result = {0};
    struct terminal_text text = {0};
    struct job_annotate_wish wish = {.output.name = settings->output,
                                     .occasion = settings->drawing.occasion,
                                     .alone = settings->alone};
    const struct night_plan_wish planned = {.option = settings->plan,
                                            .beside = operand[0],
                                            .target = settings->target,
                                            .catalogs = settings->solver.catalogs,
                                            .may_lack = true};
    struct night_plan plan;
    char place[4096];
    wish.occasion.today = occasion_options_today();
    wish.solve.threads = parallel_share(0, 1);
    int code = check_output(&wish, settings, operand, err);
    code = code ? code : open_engine(&engine, &wish.solve, &settings->solver, err);
    code = code ? code : catalogs_place(place, sizeof place, settings->solver.catalogs, err);
    code = code ? code : job_engine_add_atlas(&engine, place, err);
    code = code ? code : night_plan_use(&wish.target, &wish.plan, &plan, &engine, &planned, err);
    code = code ? code : job_annotate(&result, &engine, &picture, &wish, NULL, err);
    code = code ? code : answer(terminal_begin(&text, out), &result, &wish, settings);
    terminal_end(&text);
    job_annotate_free(&result);
    job_engine_close(&engine);
    return code;
}

const struct command command_annotate = {
    .name = "annotate",
    .summary = "Mark and name the objects and stars in a picture.",
    .operands = "FRAME",
    .least = 1,
    .most = 1,
    .about = "Objects are outlined at their true place and size; what is smaller than a mark gets "
             "a lozenge. A ring that is open in four places covers as much sky as the object does, "
             "because its orientation is not catalogued. Dark nebulae have dotted outlines, named "
             "stars stand between two strokes.",
    .options = options,
    .settings_size = sizeof(struct annotate_settings),
    .run = run,
};
