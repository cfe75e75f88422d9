#include "base/parallel.h"
#include "base/utf8.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/drawing_options.h"
#include "cli/index_place.h"
#include "cli/open_solver.h"
#include "cli/solve_report.h"

#include "jobs/frame_drawing.h"

struct annotate_settings {
    struct solver_settings solver;
    struct drawing_settings drawing;
    const char *output;
    bool alone, replace;
};

static const struct option_row options[] = {
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write here; .png, .jpg, .svg or .pdf at the end of the name says what",
     .required = true,
     .store = offsetof(struct annotate_settings, output)},
    {.name = "alone",
     .help = "the drawing without the picture, on nothing, to lay over it (not for .jpg)",
     .store = offsetof(struct annotate_settings, alone)},
    OUTPUTS_REPLACE_OPTION(annotate_settings, replace),
    DRAWING_OPTIONS(annotate_settings, drawing),
    RIG_PLACE_OPTION(annotate_settings, solver.rig),
    HINT_OPTIONS(annotate_settings),
    PLACE_OPTIONS(annotate_settings),
    {0},
};

/* What would make the work vain is found before it. */
static int check_output(enum drawing_format *format, struct drawing_wish *wish,
                        const struct annotate_settings *settings, char **frame, struct error *err)
{
    const struct output output = {settings->output, "--output",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    struct outputs outputs = {.replace = settings->replace};
    int code = drawing_format_of(format, settings->output, err);
    code = code ? code : drawing_options_read(wish, &settings->drawing, err);
    code = code ? code : occasion_options_check(&settings->drawing.occasion, 1, err);
    if (!code && settings->alone && *format == DRAWING_JPEG) {
        code = error_set(err, ERROR_USAGE,
                         "%s: JPEG has no transparency, which --alone needs; expected .png, .svg "
                         "or .pdf",
                         settings->output);
    }
    code = code ? code : claims_add_frames(&outputs, 1, frame, err);
    code = code ? code
                : claims_add_usual(&outputs, settings->solver.index, settings->solver.catalogs,
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

static int annotate(const struct solver *solver, const struct atlas *atlas, const char *name,
                    const struct annotate_settings *settings, const struct drawing_wish *wish,
                    enum drawing_format format, FILE *out, struct error *err)
{
    struct solved_frame solved = {0};
    struct overlay_report report;
    struct occasion occasion;
    const struct frame_drawing drawing = {.wish = wish,
                                          .output = settings->output,
                                          .format = format,
                                          .alone = settings->alone,
                                          .focal_mm = settings->solver.hints.focal_mm,
                                          .occasion = &occasion};
    int code = frame_solve(&solved, name, solver, err);
    if (!code && !solved.solution.solved) {
        solve_report_failure(out, &solved);
        code = ERROR_NO;
    } else if (!code) {
        code = drawing_occasion(&occasion, &solved.frame.facts, &solver->rig.rig,
                                &settings->drawing, err);
    }
    if (!code) {
        code = frame_draw(&report, &drawing, &solved, &solver->index.index, atlas, err);
    }
    if (!code) {
        report_drawing(out, &report, settings);
    }
    solved_frame_free(&solved);
    return code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    (void)operands;
    const struct annotate_settings *settings = given;
    struct solver solver = {0};
    struct atlas atlas = {0};
    struct drawing_wish wish;
    enum drawing_format format = DRAWING_PNG;
    char place[4096];
    int code = check_output(&format, &wish, settings, operand, err);
    code = code ? code : open_solver(&solver, &settings->solver, err);
    code = code ? code : catalogs_place(place, sizeof place, settings->solver.catalogs, err);
    code = code ? code : atlas_load(&atlas, place, err);
    if (!code) {
        solver.threads = parallel_share(0, 1);
        solver.want_picture = true;
        solver.want_deep = format == DRAWING_PNG && !settings->alone;
        code = annotate(&solver, &atlas, operand[0], settings, &wish, format, out, err);
    }
    atlas_free(&atlas);
    solver_close(&solver);
    return code;
}

const struct command command_annotate = {
    .name = "annotate",
    .summary = "Write a picture with its objects and stars marked and named.",
    .operands = "FRAME",
    .least = 1,
    .most = 1,
    .about =
        "Objects are outlined at their true place and size; what is smaller than a mark gets a "
        "lozenge. A ring that is open in four places covers as much sky as the object does, "
        "because the tables do not tell how it lies. Dark nebulae have dotted outlines, "
        "named stars stand between two strokes.",
    .options = options,
    .settings_size = sizeof(struct annotate_settings),
    .run = run,
};
