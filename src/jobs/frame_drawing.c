#include "jobs/frame_drawing.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>

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
                        const struct frame_drawing *drawing, const struct solved_frame *solved,
                        const struct atlas *atlas, struct error *err)
{
    const struct wcs *wcs = &solved->solution.wcs;
    double width, height;
    wcs_field(wcs, &width, &height);
    field_write_subject(texts->title, sizeof texts->title, request->field, wcs, atlas, MOST_NAMED);
    if (texts->title[0] == 'i') {
        texts->title[0] = 'I'; /* "In Cygnus" begins a line here */
    }
    write_facts(texts->facts, sizeof texts->facts, &solved->frame.facts, drawing->occasion);
    request->wcs = wcs;
    request->atlas = atlas;
    request->title = texts->title;
    request->facts = texts->facts;
    request->time_known = drawing->occasion->has_utc;
    request->time = drawing->occasion->mid;
    request->place = drawing->occasion->has_place ? &drawing->occasion->place : NULL;
    request->layers = drawing_wish_layers(drawing->wish, fmax(width, height));
    return drawing_wish_frame(&request->other, &drawing->wish->other,
                              own_focal_mm(solved, drawing->focal_mm), width, height, err);
}

static int write_drawing(struct content *content, const struct frame_drawing *drawing,
                         const struct solved_frame *solved, struct error *err)
{
    const struct frame *frame = &solved->frame;
    bool plain_jpeg = frame->can.jpeg_stream && !frame->turned;
    const struct drawing file = {
        .name = drawing->output,
        .format = drawing->format,
        .theme = theme_of(drawing->wish->theme),
        .width = frame->width,
        .height = frame->height,
        .picture = drawing->alone ? NULL : &frame->picture,
        .jpeg = !drawing->alone && plain_jpeg ? &solved->source : NULL,
    };
    return drawing_write(&file, draw_content, content, err);
}

int frame_draw(struct overlay_report *report, const struct frame_drawing *drawing,
               const struct solved_frame *solved, const struct index *index,
               const struct atlas *atlas, struct error *err)
{
    struct content content = {.report = report};
    struct content_texts texts;
    struct field field = {0};
    struct busy_map busy = {0};
    struct skyline skyline = {0};
    int code = field_find(&field, &solved->solution.wcs, &atlas->objects, err);
    content.request.field = &field;
    code = code ? code : fill_request(&content.request, &texts, drawing, solved, atlas, err);
    code = code ? code : busy_find(&busy, &solved->frame.picture, err);
    if (!code) {
        skyline_find(&skyline, &solved->solution, index);
        content.request.busy = &busy;
        content.request.skyline = &skyline;
        code = write_drawing(&content, drawing, solved, err);
    }
    busy_free(&busy);
    field_free(&field);
    return code;
}
