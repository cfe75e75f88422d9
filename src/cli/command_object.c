#include "base/parallel.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/drawing_options.h"
#include "cli/index_place.h"
#include "cli/object_list.h"
#include "cli/object_report.h"
#include "cli/open_solver.h"
#include "cli/solve_report.h"

#include "base/units.h"
#include "draw/chart.h"
#include "draw/drawing.h"
#include "objects/caption.h"

#include <math.h>
#include <string.h>

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
     .help = "with --in, list so many objects and so many stars at most, the most notable first",
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

/* A chart without a frame is so many times as wide as the object, but within limits. */
static const double object_widths = 6, narrowest_deg = 4, widest_deg = 40;
static const double frame_widths = 2;
enum { CHART_WIDTH = 2100, CHART_HEIGHT = 1400 };

static double sensor_angle(double mm, double focal_mm)
{
    return 2 * atan(mm / 2 / focal_mm) * DEG_PER_RAD;
}

static void set_frame(struct object_frame *frame, double focal_mm, double width_mm,
                      double height_mm)
{
    frame->width_deg = sensor_angle(fmax(width_mm, height_mm), focal_mm);
    frame->height_deg = sensor_angle(fmin(width_mm, height_mm), focal_mm);
    snprintf(frame->name, sizeof frame->name, "%g mm on %g × %g mm", focal_mm,
             fmax(width_mm, height_mm), fmin(width_mm, height_mm));
}

/* The frame asked for, else that of the settings file's body and lens at its longest. */
static void find_frame(struct object_frame *frame, const struct object_settings *settings,
                       const struct rig *rig)
{
    const struct lens_and_sensor *other = &settings->drawing.other;
    double focal = other->focal_mm > 0                   ? other->focal_mm
                   : settings->solver.hints.focal_mm > 0 ? settings->solver.hints.focal_mm
                   : rig->lens                           ? rig->lens->longest_mm
                                                         : 0;
    double width = other->width_mm > 0 ? other->width_mm : rig->body ? rig->body->sensor_width : 0;
    double height = other->width_mm > 0 ? other->height_mm
                    : rig->body         ? rig->body->sensor_height
                                        : 0;
    memset(frame, 0, sizeof *frame);
    if (focal > 0 && width > 0 && height > 0) {
        set_frame(frame, focal, width, height);
    }
}

static double chart_field(const struct object_settings *settings, const struct object *object,
                          const struct object_frame *frame)
{
    double size_deg = object->major_arcmin > 0 ? object->major_arcmin / 60 : 0;
    if (settings->field_deg > 0) {
        return settings->field_deg;
    }
    double wanted = frame->width_deg > 0 ? frame_widths * frame->width_deg
                                         : fmax(narrowest_deg, object_widths * size_deg);
    return fmin(fmax(wanted, 0.5), frame->width_deg > 0 ? 120 : widest_deg);
}

/* What the chart is drawn from. */
struct chart_content {
    const struct index *index;
    struct occasion occasion;
    char date[48];
    struct overlay_request request;
    struct overlay_report report;
};

static int draw_chart(struct canvas *canvas, void *context, struct error *err)
{
    struct chart_content *content = context;
    return chart_draw(&content->report, canvas, content->index, &content->request, err);
}

static int fill_content(struct chart_content *content, const struct object_settings *settings,
                        const struct object_frame *frame, double field_deg, struct error *err)
{
    struct overlay_request *request = &content->request;
    occasion_write_date(content->date, sizeof content->date, &content->occasion);
    request->facts = content->date;
    request->time_known = content->occasion.has_utc;
    request->time = content->occasion.mid;
    request->place = content->occasion.has_place ? &content->occasion.place : NULL;
    request->other.width_deg = frame->width_deg;
    request->other.height_deg = frame->height_deg;
    snprintf(request->other.name, sizeof request->other.name, "%s", frame->name);
    struct drawing_wish wish;
    int code = drawing_options_read(&wish, &settings->drawing, err);
    request->layers = drawing_wish_layers(&wish, field_deg);
    if (!settings->drawing.hide) {
        request->layers |= 1U << LAYER_GRID; /* there is no picture that it could spoil */
    }
    return code;
}

static int write_chart(const struct object *object, const struct object_settings *settings,
                       const struct object_frame *frame, const struct rig *rig,
                       const struct index *index, const struct atlas *atlas, struct error *err)
{
    static const struct frame_facts nothing;
    struct chart_content content = {.index = index};
    struct drawing drawing = {.name = settings->output,
                              .theme = theme_of((enum theme_kind)settings->drawing.theme),
                              .width = CHART_WIDTH,
                              .height = CHART_HEIGHT,
                              .opaque = true};
    struct wcs wcs;
    struct field field = {0};
    char title[160];
    double field_deg = chart_field(settings, object, frame);
    chart_make_wcs(&wcs, object->ra_deg, object->dec_deg, field_deg, CHART_WIDTH, CHART_HEIGHT);
    caption_full(title, sizeof title, object);
    content.request.wcs = &wcs;
    content.request.atlas = atlas;
    content.request.field = &field;
    content.request.title = title;
    int code = drawing_format_of(&drawing.format, settings->output, err);
    code =
        code ? code : drawing_occasion(&content.occasion, &nothing, rig, &settings->drawing, err);
    code = code ? code : fill_content(&content, settings, frame, field_deg, err);
    code = code ? code : field_find(&field, &wcs, &atlas->objects, err);
    if (!code) {
        field_feature(&field, object, &wcs);
        code = drawing_write(&drawing, draw_chart, &content, err);
    }
    field_free(&field);
    return code;
}

static int report_object(const struct object *object, const struct object_settings *settings,
                         const struct atlas *atlas, FILE *out, struct error *err)
{
    struct rig_in_use rig = {0};
    struct index_file index = {0};
    struct object_frame frame;
    char place[4096];
    int code = rig_open(&rig, &settings->solver.rig, err);
    if (code) {
        return code;
    }
    find_frame(&frame, settings, &rig.rig);
    if (settings->output) {
        code = index_place(place, sizeof place, settings->solver.index, err);
        code = code ? code : index_open(&index, place, err);
        code =
            code ? code : write_chart(object, settings, &frame, &rig.rig, &index.index, atlas, err);
        index_close(&index);
    }
    if (code) {
        return code;
    }
    if (settings->json) {
        return object_report_json(out, object, &frame, atlas, err);
    }
    object_report_text(out, object, &frame, atlas);
    return 0;
}

static int list_frame(const struct object_settings *settings, const struct atlas *atlas, FILE *out,
                      struct error *err)
{
    enum list_format format = settings->json ? LIST_JSON : settings->csv ? LIST_CSV : LIST_TEXT;
    struct solver solver = {0};
    struct solved_frame solved = {0};
    struct occasion occasion;
    int code = open_solver(&solver, &settings->solver, err);
    solver.threads = parallel_share(0, 1);
    code = code ? code : frame_solve(&solved, settings->in, &solver, err);
    if (!code && solved.solution.solved) {
        code = drawing_occasion(&occasion, &solved.frame.facts, &solver.rig.rig, &settings->drawing,
                                err);
        code = code ? code
                    : object_list_write(out, &solved, &occasion, atlas, format, settings->most,
                                        true, err);
    } else if (!code && settings->json) {
        code = object_list_unsolved(out, &solved, err);
        code = code ? code : ERROR_NO;
    } else if (!code) {
        solve_report_failure(out, &solved);
        code = ERROR_NO;
    }
    solved_frame_free(&solved);
    solver_close(&solver);
    return code;
}

static int check_output(const struct object_settings *settings, struct error *err)
{
    const struct output output = {settings->output, "--output",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    struct outputs outputs = {.replace = settings->replace};
    int code = claims_add_usual(&outputs, settings->solver.index, settings->solver.catalogs,
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
    struct atlas atlas = {0};
    char place[4096];
    int code = check(settings, operands, err);
    code = code ? code : catalogs_place(place, sizeof place, settings->solver.catalogs, err);
    code = code ? code : atlas_load(&atlas, place, err);
    if (!code && settings->in) {
        code = list_frame(settings, &atlas, out, err);
    } else if (!code) {
        const struct object *object = objects_look_up(&atlas.objects, operand[0], err);
        code = object ? report_object(object, settings, &atlas, out, err) : err->code;
    }
    atlas_free(&atlas);
    return code;
}

const struct command command_object = {
    .name = "object",
    .summary = "Say what is known of an object, chart it, or list all that is in a frame.",
    .operands = "[NAME]",
    .least = 0,
    .most = 1,
    .about = "The chart shows the object in the middle, north up, as your camera and lens would "
             "frame it: those of the settings file, or --frame-of 250,22.2x14.8. It needs no "
             "photograph. Stars go by name, letter, HD or Hipparcos number: Vega, \"alf Lyr\", "
             "\"HIP 5\".\n\nMagnitudes of nebulae are often those of the stars in them.",
    .options = options,
    .settings_size = sizeof(struct object_settings),
    .run = run,
};
