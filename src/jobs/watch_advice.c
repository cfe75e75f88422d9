#include "jobs/watch_advice.h"

#include "jobs/batch_advice.h"
#include "jobs/night_clock.h"
#include "jobs/target.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CLOCK_SET_BACK = 3, MOST_FRAMES = 5000 };

static void find_occasion(struct occasion *occasion, const struct watch_advice *advice,
                          const struct night_frame *frame)
{
    night_occasion(occasion, frame, &advice->context->engine->rig.rig,
                   &advice->context->wish->occasion);
    if (!occasion->has_time && night_frame_start(&occasion->start, frame) != NIGHT_CLOCK_NONE) {
        occasion->has_time = true;
        occasion->mid = time_add(occasion->start, frame->exposure_s / 2);
    }
}

static double find_cadence(const struct watch_advice *advice, const struct night_frame *frame)
{
    double wished = advice->context->wish->cadence_s;
    if (!(wished > 0) && advice->context->plan && advice->pace.gaps == 0) {
        return night_plan_every_s(advice->context->plan);
    }
    return wished > 0 ? wished : pace_cadence_s(&advice->pace, frame->exposure_s);
}

/* Whether the frame is older than the latest; if several come one after the other the clock was
 * set back, and they are not. */
static bool is_late(struct watch_advice *advice, struct utc mid)
{
    if (!advice->has_last || time_between(advice->last, mid) >= 0) {
        advice->late = 0;
        return false;
    }
    advice->late =
        advice->late > 0 && time_between(advice->late_mid, mid) > 0 ? advice->late + 1 : 1;
    advice->late_mid = mid;
    return advice->late < CLOCK_SET_BACK;
}

static void compare(struct night_step *step, struct watch_advice *advice,
                    const struct series_frame *sight)
{
    struct series_step between;
    series_compare(&between, &advice->sight, sight);
    step->compared = true;
    step->clock_jump_s = between.jump_s;
    if (between.jump_s == 0) {
        step->touched = between.touched;
        step->moved_deg = between.moved_px * wcs_scale_arcsec(&sight->wcs) / 3600;
    }
    advice->since_touch = step->touched ? 0 : advice->since_touch + 1;
}

/* By the watcher's own clock only the day counts: it has gone on since the watch began. */
static void doubt_clock(struct night_step *step, const struct watch_advice *advice,
                        const struct wcs *wcs, const struct occasion *occasion)
{
    const double night_s = 43200;
    struct aim_sight sight = {.wcs = *wcs, .occasion = *occasion};
    struct utc began = occasion->today;
    if (began.day > 0 && fabs(time_between(occasion->mid, began)) < night_s) {
        sight.occasion.today = time_add(occasion->mid, 0);
    } else {
        sight.occasion.today = (struct utc){0, 0};
    }
    aim_clock_doubt(&step->clock_doubt, &sight, advice->context->wish, advice->context->plan);
}

static double margin_px(const struct aim_wish *wish, const struct wcs *wcs)
{
    return wish->margin_percent / 100 * (wcs->width < wcs->height ? wcs->width : wcs->height);
}

static void find_drift(struct night_step *step, const struct watch_advice *advice,
                       const struct wcs *wcs, const struct occasion *occasion)
{
    struct aim_target target = advice->context->target;
    const struct sky_ellipse *shape = &target.shape;
    double margin = margin_px(advice->context->wish, wcs);
    struct ground ground;
    struct stand stand;
    struct head_axes axes;
    struct lead lead;
    double to[3];
    if (!target_at(&target, occasion) || !occasion_ground(&ground, occasion, true)) {
        return;
    }
    stand_make(&stand, wcs, &ground);
    ellipse_direction(to, shape, 0, 0);
    hiding_find(&step->hiding, occasion->skyline, &ground, to, ADVICE_FARTHEST);
    step->on_target = drift_measure(&step->drift, &stand, NULL, shape, margin, 0, ADVICE_FARTHEST);
    if (!step->on_target) { /* behind the camera */
        step->drift = (struct drift){0};
        step->on_target = true;
    }
    if (step->compared && advice->since_touch == 1 && step->cadence_s > 0) {
        head_axes_of_camera(&axes, &stand.view);
        step->longest = lead_longest(&lead, &stand, &axes, shape, margin, step->cadence_s,
                                     step->cadence_s, MOST_FRAMES);
    }
}

/* Anew when the camera was turned, or frames come otherwise. */
static void find_batch(struct night_step *step, struct watch_advice *advice, const struct wcs *wcs,
                       const struct night_frame *frame, const struct occasion *occasion)
{
    struct ground ground;
    struct stand stand;
    struct aim_head head;
    bool stale = !advice->has_batch || advice->since_touch <= 1 ||
                 fabs(step->cadence_s * (double)advice->batch.frames - advice->batch.span_s) >
                     0.05 * advice->batch.span_s;
    struct aim_context here = *advice->context;
    bool known = here.target.name[0] && target_at(&here.target, occasion);
    if (known && stale && occasion_ground(&ground, occasion, true)) {
        stand_make(&stand, wcs, &ground);
        aim_head_find(&head, advice->context->engine->rig.rig.head, occasion);
        const struct batch_sight sight = {&stand, &head.head, frame->exposure_s, step->cadence_s,
                                          hiding_visible_s(&step->hiding)};
        advice->has_batch = batch_advise(&advice->batch, &sight, &here);
    }
    step->has_batch = advice->has_batch;
    step->batch = advice->batch;
}

static void keep_for_next(struct watch_advice *advice, const struct night_frame *frame)
{
    struct solve_before *before = &advice->before;
    if (frame->pose.focal_px <= 0) {
        return;
    }
    *before = (struct solve_before){
        .known = true, .mirrored = frame->mirrored, .scale_arcsec = frame->scale_arcsec};
    night_frame_pose(&before->pose, frame);
    enum night_clock clock = night_frame_start(&before->start, frame);
    before->has_start = clock == NIGHT_CLOCK_UTC || clock == NIGHT_CLOCK_LOCAL;
}

bool watch_advice_target(struct aim_target *target, const struct watch_advice *advice,
                         const struct night_frame *frame)
{
    struct occasion occasion;
    *target = advice->context->target;
    if (target->moves) {
        find_occasion(&occasion, advice, frame);
    }
    return !target->moves || target_at(target, &occasion);
}

void watch_advice_step(struct night_step *step, struct watch_advice *advice,
                       const struct night_frame *frame)
{
    struct occasion occasion;
    struct series_frame sight = {0};
    *step = (struct night_step){.time_s = (double)NAN};
    find_occasion(&occasion, advice, frame);
    if (!frame->read || !occasion.has_time || is_late(advice, occasion.mid)) {
        step->late = true;
        return;
    }
    if (advice->has_last && advice->late == 0) {
        pace_add(&advice->pace, time_between(advice->last, occasion.mid));
    }
    advice->late = 0;
    advice->last = occasion.mid;
    advice->has_last = true;
    step->time_s = time_julian_date(occasion.mid) * 86400;
    step->is_utc = occasion.has_utc;
    step->cadence_s = advice->cadence_s = find_cadence(advice, frame);
    sight.mid = occasion.mid;
    if (!night_frame_wcs(&sight.wcs, frame)) {
        return;
    }
    if (advice->has_sight) {
        compare(step, advice, &sight);
    }
    doubt_clock(step, advice, &sight.wcs, &occasion);
    find_drift(step, advice, &sight.wcs, &occasion);
    find_batch(step, advice, &sight.wcs, frame, &occasion);
    advice->sight = sight;
    advice->has_sight = true;
    keep_for_next(advice, frame);
}

void watch_advice_give(struct aim_answer *answer, const struct watch_advice *advice,
                       const struct solved_frame *solved, double cadence_s)
{
    aim_answer_find(answer, solved, advice->context, cadence_s);
}
