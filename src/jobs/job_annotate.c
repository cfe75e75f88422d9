#include "jobs/job_annotate.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_NAMED = 3 }; /* in the caption */

/* What the content of the drawing is made from. */
struct content {
    struct overlay_request request;
    struct overlay_report *report;
};

static int draw_content(struct canvas *canvas, void *context, struct error *err)
{
    struct content *content = context;
    return overlay_draw(content->report, canvas, &content->request, err);
}

/* "2026-02-24 19:43:57 UTC  ·  2 s  ·  250 mm" */
static void write_facts(char *out, size_t size, const struct frame_facts *facts,
                        const struct occasion *occasion)
{
    char part[2][48] = {"", ""}, date[48];
    occasion_write_date(date, sizeof date, occasion);
    if (facts->exposure_s.origin != FACT_UNKNOWN) {
        double s = facts->exposure_s.value;
        snprintf(part[0], sizeof part[0], s < 0.4 && s > 0 ? "1/%.0f s" : "%.3g s",
                 s < 0.4 && s > 0 ? 1 / s : s);
    }
    if (facts->focal_mm.origin != FACT_UNKNOWN) {
        snprintf(part[1], sizeof part[1], "%.4g mm", facts->focal_mm.value);
    }
    snprintf(out, size, "%s", date);
    for (int i = 0; i < 2; i++) {
        text_append(out, size, "%s%s", out[0] && part[i][0] ? "  ·  " : "", part[i]);
    }
}

static double own_focal_mm(const struct solved_frame *solved, double given_mm)
{
    const struct fact *focal = &solved->frame.facts.focal_mm;
    return given_mm > 0 ? given_mm : focal->origin != FACT_UNKNOWN ? focal->value : 0;
}

/* The texts that the request borrows. */
struct content_texts {
    char title[400], facts[200];
};

static int fill_request(struct overlay_request *request, struct content_texts *texts,
                        const struct job_annotate_wish *wish, const struct solved_frame *solved,
                        const struct occasion *occasion, const struct atlas *atlas,
                        struct error *err)
{
    const struct wcs *wcs = &solved->solution.wcs;
    double width, height;
    wcs_field(wcs, &width, &height);
    field_write_subject(texts->title, sizeof texts->title, request->field, wcs, atlas, MOST_NAMED);
    if (texts->title[0] == 'i') {
        texts->title[0] = 'I'; /* "In Cygnus" begins a line here */
    }
    write_facts(texts->facts, sizeof texts->facts, &solved->frame.facts, occasion);
    request->wcs = wcs;
    request->atlas = atlas;
    request->title = texts->title;
    request->facts = texts->facts;
    request->time_known = occasion->has_utc;
    request->time = occasion->mid;
    request->place = occasion->has_place ? &occasion->place : NULL;
    request->layers = drawing_wish_layers(&wish->drawing, fmax(width, height));
    return drawing_wish_frame(&request->other, &wish->drawing.other,
                              own_focal_mm(solved, wish->solve.hints.focal_mm), width, height, err);
}

static int write_drawing(struct content *content, const struct job_annotate_wish *wish,
                         const struct solved_frame *solved, struct error *err)
{
    const struct frame *frame = &solved->frame;
    bool plain_jpeg = frame->can.jpeg_stream && !frame->turned;
    const struct drawing file = {
        .name = wish->output.name,
        .memory = wish->output.memory,
        .format = wish->format,
        .theme = theme_of(wish->drawing.theme),
        .width = frame->width,
        .height = frame->height,
        .picture = wish->alone ? NULL : &frame->picture,
        .jpeg = !wish->alone && plain_jpeg ? &solved->source : NULL,
    };
    return drawing_write(&file, draw_content, content, err);
}

static int draw(struct job_annotate_result *result, const struct job_engine *engine,
                const struct job_annotate_wish *wish, struct error *err)
{
    const struct solved_frame *solved = &result->solved;
    struct content content = {.report = &result->report};
    struct content_texts texts;
    struct occasion occasion;
    struct field field = {0};
    struct busy_map busy = {0};
    struct skyline skyline = {0};
    int code = occasion_find_known(&occasion, &solved->frame.facts, &engine->rig.rig,
                                   &wish->occasion, err);
    code = code ? code : field_find(&field, &solved->solution.wcs, &engine->atlas.objects, err);
    content.request.field = &field;
    code =
        code ? code
             : fill_request(&content.request, &texts, wish, solved, &occasion, &engine->atlas, err);
    code = code ? code : busy_find(&busy, &solved->frame.picture, err);
    if (!code) {
        skyline_find(&skyline, &solved->solution, &engine->index.index);
        content.request.busy = &busy;
        content.request.skyline = &skyline;
        code = write_drawing(&content, wish, solved, err);
    }
    busy_free(&busy);
    field_free(&field);
    return code;
}

int job_annotate_check(const struct job_annotate_wish *wish, struct error *err)
{
    if (wish->alone && wish->format == DRAWING_JPEG) {
        return error_set(err, ERROR_USAGE,
                         "%s: JPEG has no transparency, which --alone needs; expected .png, .svg "
                         "or .pdf",
                         wish->output.name);
    }
    return 0;
}

int job_annotate(struct job_annotate_result *result, const struct job_engine *engine,
                 const struct picture_source *picture, const struct job_annotate_wish *wish,
                 const struct job_control *control, struct error *err)
{
    struct solve_wish solve = wish->solve;
    memset(result, 0, sizeof *result);
    if (job_annotate_check(wish, err)) {
        return ERROR_USAGE;
    }
    solve.want_picture = true;
    solve.want_deep = wish->format == DRAWING_PNG && !wish->alone;
    int code = job_solve(&result->solved, engine, picture, &solve, control, err);
    if (!code && result->solved.solution.solved) {
        code = draw(result, engine, wish, err);
    }
    return code;
}

void job_annotate_free(struct job_annotate_result *result)
{
    solved_frame_free(&result->solved);
    memset(result, 0, sizeof *result);
}
