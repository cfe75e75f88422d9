#include "jobs/job_annotate.h"

#include "base/text.h"
#include "jobs/target.h"
#include "sky/vector.h"

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

/* What is not of the tables of deep-sky objects is named here: a star, a position, what moves. */
static void write_title(char *out, size_t size, const struct job_annotate_result *result,
                        const struct field *field, const struct atlas *atlas)
{
    const struct wcs *wcs = &result->solved.solution.wcs;
    const struct aim_target *target = &result->target;
    bool deep = target->object && target->object->type != OBJECT_STAR;
    if (!result->has_target || deep || result->aim.verdict == AIM_OUTSIDE) {
        field_write_subject(out, size, field, wcs, atlas, MOST_NAMED);
    } else {
        double ra = target->shape.ra_deg, dec = target->shape.dec_deg;
        const char *sign = place_constellation(&atlas->map, ra, dec);
        const struct constellation *in = constellations_find(&atlas->constellations, sign, ra, dec);
        snprintf(out, size, "%s%s%s", target->name, in ? ", in " : "", in ? in->name : "");
    }
    if (out[0] == 'i' || out[0] == 't') {
        out[0] = (char)(out[0] - 'a' + 'A'); /* "In Cygnus", "The Moon" begins a line here */
    }
}

/* The frame of the plan as the same tripod holds it at that time, which turns it about its middle;
 * without a place as it was to begin. */
static void find_planned(struct other_frame *planned, const struct night_plan *plan,
                         const struct aim_target *target, const struct occasion *occasion)
{
    const struct place *place = &occasion->place;
    double then, now;
    *planned = (struct other_frame){.width_deg = plan->field_width_deg,
                                    .height_deg = plan->field_height_deg,
                                    .placed = true,
                                    .ra_deg = plan->middle.ra_deg,
                                    .dec_deg = plan->middle.dec_deg,
                                    .up_deg = plan->up_deg};
    if (target->moves) {
        planned->ra_deg = target->shape.ra_deg;
        planned->dec_deg = target->shape.dec_deg;
    }
    snprintf(planned->name, sizeof planned->name, "plan: %g mm", plan->focal_mm);
    if (occasion_has_horizon(occasion) && plan->begin.known &&
        horizon_zenith_angle(&then, place, plan->begin.utc, planned->ra_deg, planned->dec_deg) &&
        horizon_zenith_angle(&now, place, occasion->mid, planned->ra_deg, planned->dec_deg)) {
        planned->up_deg = angle_wrap_180(plan->up_deg + now - then);
    }
}

/* Puts what the picture is to be of before all else in its field. */
static void feature_target(struct job_annotate_result *result, struct field *field,
                           const struct job_annotate_wish *wish, const struct occasion *occasion)
{
    const struct wcs *wcs = &result->solved.solution.wcs;
    result->target = wish->target;
    result->has_target = wish->target.name[0] && target_at(&result->target, occasion);
    if (!result->has_target) {
        return;
    }
    aim_measure(&result->aim, &result->target, wcs, 0);
    aim_prove(&result->aim, &result->target, wcs, &result->solved.solution.trust);
    if (result->target.object) {
        field_feature(field, result->target.object, wcs);
    }
}

static int fill_request(struct overlay_request *request, struct content_texts *texts,
                        const struct job_annotate_wish *wish,
                        const struct job_annotate_result *result, const struct occasion *occasion,
                        const struct atlas *atlas, struct error *err)
{
    const struct solved_frame *solved = &result->solved;
    const struct wcs *wcs = &solved->solution.wcs;
    double width, height;
    wcs_field(wcs, &width, &height);
    write_title(texts->title, sizeof texts->title, result, request->field, atlas);
    if (wish->plan && (result->has_target || !wish->target.moves)) {
        find_planned(&request->planned, wish->plan, &result->target, occasion);
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
    struct foreground foreground = {0};
    int code = occasion_find_known(&occasion, &solved->frame.facts, &engine->rig.rig,
                                   &wish->occasion, err);
    code = code ? code : field_find(&field, &solved->solution.wcs, &engine->atlas.objects, err);
    content.request.field = &field;
    if (!code) {
        feature_target(result, &field, wish, &occasion);
        field_keep_proven(&field, &solved->solution.wcs, &solved->solution.trust);
        code = fill_request(&content.request, &texts, wish, result, &occasion, &engine->atlas, err);
    }
    code = code ? code : busy_find(&busy, &solved->frame.picture, err);
    code = code ? code : foreground_find(&foreground, &solved->solution, solved->index, err);
    if (!code) {
        content.request.busy = &busy;
        content.request.trust = &solved->solution.trust;
        content.request.foreground = &foreground;
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
                         "%s: JPEG has no transparency, which a drawing alone needs; expected "
                         ".png, .svg or .pdf",
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
    solve.want_samples = wish->alone; /* only names look where there is room in it */
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
