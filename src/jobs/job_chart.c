#include "jobs/job_chart.h"

#include "draw/chart.h"
#include "objects/caption.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A chart without a frame is so many times as wide as the object, but within limits. */
static const double object_widths = 6, narrowest_deg = 4, widest_deg = 40;
static const double frame_widths = 2, least_deg = 0.5, most_deg = 120;
enum { CHART_WIDTH = 2100, CHART_HEIGHT = 1400 };

void job_chart_frame(struct other_frame *frame, const struct job_engine *engine,
                     const struct job_chart_wish *wish)
{
    const struct rig *rig = &engine->rig.rig;
    const struct lens_and_sensor *other = &wish->drawing.other;
    double focal = other->focal_mm > 0  ? other->focal_mm
                   : wish->focal_mm > 0 ? wish->focal_mm
                   : rig->lens          ? rig->lens->longest_mm
                                        : 0;
    double width = other->width_mm > 0 ? other->width_mm : rig->body ? rig->body->sensor_width : 0;
    double height = other->width_mm > 0 ? other->height_mm
                    : rig->body         ? rig->body->sensor_height
                                        : 0;
    memset(frame, 0, sizeof *frame);
    if (focal > 0 && width > 0 && height > 0) {
        const struct lens_and_sensor lens = {focal, fmax(width, height), fmin(width, height)};
        drawing_wish_frame(frame, &lens, 0, 0, 0, NULL);
    }
}

double job_chart_width_deg(const struct job_chart_wish *wish, const struct object *object,
                           const struct other_frame *frame)
{
    double size_deg = object->major_arcmin > 0 ? object->major_arcmin / 60 : 0;
    if (wish->field_deg > 0) {
        return wish->field_deg;
    }
    double wanted = frame->width_deg > 0 ? frame_widths * frame->width_deg
                                         : fmax(narrowest_deg, object_widths * size_deg);
    return fmin(fmax(wanted, least_deg), frame->width_deg > 0 ? most_deg : widest_deg);
}

/* What the chart is drawn from. */
struct content {
    const struct index *index;
    struct occasion occasion;
    char title[160], date[48];
    struct overlay_request request; /* borrows from the members above */
    struct overlay_report *report;
};

static int draw_content(struct canvas *canvas, void *context, struct error *err)
{
    struct content *content = context;
    return chart_draw(content->report, canvas, content->index, &content->request, err);
}

static int fill_content(struct content *content, const struct job_engine *engine,
                        const struct object *object, const struct job_chart_wish *wish,
                        struct error *err)
{
    static const struct frame_facts nothing;
    struct overlay_request *request = &content->request;
    const struct occasion *occasion = &content->occasion;
    int code =
        occasion_find_known(&content->occasion, &nothing, &engine->rig.rig, &wish->occasion, err);
    caption_full(content->title, sizeof content->title, object);
    occasion_write_date(content->date, sizeof content->date, occasion);
    content->index = job_engine_widest(engine);
    request->atlas = &engine->atlas;
    request->title = content->title;
    request->facts = content->date;
    request->time_known = occasion->has_utc;
    request->time = occasion->mid;
    request->place = occasion->has_place ? &occasion->place : NULL;
    return code;
}

static layer_set choose_layers(const struct drawing_wish *wish, double field_deg)
{
    layer_set layers = drawing_wish_layers(wish, field_deg);
    /* There is no picture that a grid could spoil. */
    return wish->hide ? layers : layers | 1U << LAYER_GRID;
}

static int write_chart(struct content *content, const struct object *object,
                       const struct job_chart_wish *wish, double field_deg, struct error *err)
{
    const struct drawing drawing = {.name = wish->output.name,
                                    .memory = wish->output.memory,
                                    .format = wish->format,
                                    .theme = theme_of(wish->drawing.theme),
                                    .width = CHART_WIDTH,
                                    .height = CHART_HEIGHT,
                                    .opaque = true};
    struct field field = {0};
    struct wcs wcs;
    chart_make_wcs(&wcs, object->ra_deg, object->dec_deg, field_deg, CHART_WIDTH, CHART_HEIGHT);
    content->request.wcs = &wcs;
    content->request.field = &field;
    int code = field_find(&field, &wcs, &content->request.atlas->objects, err);
    if (!code) {
        if (object->type != OBJECT_PLANET && object->type != OBJECT_MOON) { /* drawn anyway */
            field_feature(&field, object, &wcs);
        }
        code = drawing_write(&drawing, draw_content, content, err);
    }
    field_free(&field);
    return code;
}

int job_chart(struct overlay_report *report, const struct job_engine *engine,
              const struct object *object, const struct job_chart_wish *wish,
              const struct job_control *control, struct error *err)
{
    struct content content = {.report = report};
    if (job_is_cancelled(control)) {
        return error_set(err, ERROR_CANCELLED, "%s: cancelled", wish->output.name);
    }
    job_chart_frame(&content.request.other, engine, wish);
    double field_deg = job_chart_width_deg(wish, object, &content.request.other);
    content.request.layers = choose_layers(&wish->drawing, field_deg);
    int code = fill_content(&content, engine, object, wish, err);
    return code ? code : write_chart(&content, object, wish, field_deg, err);
}
