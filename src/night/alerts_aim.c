#include "night/alerts_parts.h"

#include "base/text.h"
#include "tripod/batch_length.h"

#include <math.h>
#include <string.h>

static const double good_share = 0.75;   /* of the longest batch possible */
static const double gained_share = 0.25; /* of it, by a move that was meant */
static const double last_frames = 2;     /* with fewer left there is no time for a warning */
static const double whole_frame = 1e-6;  /* so little less than a frame is one */

/* Before the target leaves the safe part. */
static double frames_inside(const struct night_step *step)
{
    if (!step->drift.inside) {
        return 0;
    }
    return step->drift.changes && step->cadence_s > 0 ? step->drift.change_s / step->cadence_s
                                                      : (double)INFINITY;
}

/* 0: not known. */
static long batch_frames(const struct alerts *alerts, const struct night_step *step)
{
    if (alerts->wish.centre) {
        return 0;
    }
    return alerts->wish.batch > 0 ? alerts->wish.batch : step->has_batch ? step->batch.frames : 0;
}

/* Before the batch is over: its first frame has all of it before it. */
static double frames_of_batch(const struct alerts *alerts, const struct night_step *step)
{
    long frames = batch_frames(alerts, step);
    bool turned = !alerts->placed && isfinite(alerts->touched_s); /* a moment ago */
    double begun_s = turned ? alerts->touched_s : alerts->begun_s;
    double taken = round((step->time_s - begun_s) / step->cadence_s);
    return frames && isfinite(taken) ? (double)frames - taken : (double)INFINITY;
}

double alerts_frames_left(const struct alerts *alerts, const struct night_step *step)
{
    return fmin(frames_inside(step), frames_of_batch(alerts, step));
}

static void write_frames(char *out, size_t size, double frames)
{
    double whole = fmax(0, floor(frames + whole_frame));
    snprintf(out, size, "%.0f frame%s", whole, whole == 1 ? "" : "s");
}

static void tell_place(struct told *told, enum alert_kind kind, const struct alerts *alerts,
                       const struct night_step *step)
{
    const char *edge = frame_edge_word(step->drift.edge);
    double inside = frames_inside(step), batch = frames_of_batch(alerts, step);
    bool now = fmin(inside, batch) < 1 - whole_frame;
    bool complete = batch < last_frames; /* with this frame */
    char frames[32];
    write_frames(frames, sizeof frames, fmin(inside, batch));
    if (!step->drift.inside) {
        alerts_tell(told, kind, "the target is not fully inside the safe area");
    } else if (!isfinite(inside) && !isfinite(batch)) {
        alerts_tell(told, kind, "the target stays in the safe area for hours");
    } else if (kind == ALERT_CENTRED) {
        alerts_tell(told, kind, "re-centre in %s", frames);
    } else if (batch < inside) {
        alerts_tell(told, kind, "this batch of %ld frames %s%s", batch_frames(alerts, step),
                    complete ? "is complete" : "ends in ", complete ? "" : frames);
    } else {
        alerts_tell(told, kind, "the target leaves the safe area at the %s %s%s", edge,
                    now ? "with the next frame" : "in ", now ? "" : frames);
    }
}

static void begin_batch(struct alerts *alerts, const struct night_step *step)
{
    alerts->begun_s = isfinite(alerts->touched_s) ? alerts->touched_s : step->time_s;
    alerts->due = (struct alert_rule){0};
    alerts->lost = 0;
}

void alerts_forget_aim(struct alerts *alerts)
{
    alerts->aim = PLACE_FINE;
    alerts->placed = false;
    alerts->moved_deg = alerts->left = 0;
    alerts->begun_s = alerts->touched_s = (double)NAN;
    alerts->due = alerts->behind = (struct alert_rule){0};
    alerts->view = VIEW_CLEAR;
    alerts->lost = 0;
}

static void set_aim(struct alerts *alerts, enum alert_aim aim)
{
    alerts->aim = aim;
    if (aim == PLACE_WRONG) {
        alerts->due = (struct alert_rule){.raised = true};
        alerts->lost = 0;
    }
}

/* After the camera was moved, or at the start. */
static void judge_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double left = frames_inside(step);
    long batch = batch_frames(alerts, step);
    double wanted = batch > 0 ? (double)batch : (double)INFINITY;
    wanted = step->longest > 0 ? fmin(wanted, step->longest) : wanted;
    bool good = step->drift.inside && (left >= good_share * wanted || !isfinite(wanted));
    bool start = alerts->moved_deg <= 0, asked = alerts->aim != PLACE_FINE;
    bool better = left > alerts->left + gained_share * (isfinite(wanted) ? wanted : 0);
    alerts->placed = true;
    alerts->left = left;
    if (start) {
        begin_batch(alerts, step);
        if (!step->drift.inside) {
            tell_place(told, ALERT_RECENTRE, alerts, step);
        }
        set_aim(alerts, step->drift.inside ? PLACE_FINE : PLACE_WRONG);
        return;
    }
    if (!asked && !better) { /* nobody re-centres to gain nothing */
        alerts_tell(told, ALERT_KNOCKED,
                    "check the legs and clamps: it moved by %.2f°, although no re-centring was due",
                    alerts->moved_deg);
        return;
    }
    begin_batch(alerts, step);
    tell_place(told, good ? ALERT_CENTRED : ALERT_STILL_OFF, alerts, step);
    set_aim(alerts, good ? PLACE_FINE : PLACE_WRONG);
}

/* What it costs that nobody turned the camera. */
static void tell_cost(struct told *told, const struct alerts *alerts, const struct night_step *step)
{
    const struct batch_length *batch = &step->batch;
    double over = -frames_of_batch(alerts, step);
    char text[200];
    snprintf(text, sizeof text, "due for %d frame%s", alerts->due.frames,
             alerts->due.frames == 1 ? "" : "s");
    if (alerts->lost) {
        text_append(text, sizeof text, "; %d of them do not show the whole target", alerts->lost);
    }
    if (over > 0 && step->has_batch && batch->has_smear && !alerts->wish.centre) {
        double longer = 1 + over / (double)batch->frames;
        double smear = batch->smear_px[step->batch.align] * longer;
        text_append(text, sizeof text, "; stars at the edge of the stack are now %.0f %% wider",
                    100 * batch_widening(smear, batch->sigma_px));
    }
    alerts_tell_again(told, ALERT_RECENTRE, &alerts->due, "%s", text);
}

static void follow_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    alerts->left = frames_inside(step);
    double left = alerts_frames_left(alerts, step);
    if (alerts->aim < PLACE_WRONG && left < last_frames) {
        tell_place(told, ALERT_RECENTRE, alerts, step);
        set_aim(alerts, PLACE_WRONG);
    } else if (alerts->aim < PLACE_ENDING && left <= alerts->wish.warn_frames) {
        tell_place(told, ALERT_NEAR_EDGE, alerts, step);
        alerts->aim = PLACE_ENDING;
    } else if (alerts->aim == PLACE_WRONG) {
        alerts->lost += !step->drift.inside;
        if (alerts_again(&alerts->due)) {
            tell_cost(told, alerts, step);
        }
    }
}

double alerts_frames_visible(const struct night_step *step)
{
    double visible_s = hiding_visible_s(&step->hiding);
    return isfinite(visible_s) && step->cadence_s > 0 ? visible_s / step->cadence_s : INFINITY;
}

/* Whether the skyline is what ends it, so that nobody need turn the camera any more. */
static bool feed_skyline(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double left = alerts_frames_visible(step);
    char text[120], frames[32];
    if (!step->on_target || left > alerts->wish.warn_frames) {
        alerts->view = VIEW_CLEAR;
        return false;
    }
    hiding_write(text, sizeof text, &step->hiding);
    write_frames(frames, sizeof frames, left);
    if (step->hiding.hidden && alerts->view != VIEW_HIDDEN) {
        alerts->view = VIEW_HIDDEN;
        alerts->behind = (struct alert_rule){.raised = true};
        alerts_tell(told, ALERT_SKYLINE, "stop here, or choose another target: %s", text);
    } else if (!step->hiding.hidden && alerts->view == VIEW_CLEAR) {
        alerts->view = VIEW_ENDING;
        alerts_tell(told, ALERT_SKYLINE, "choose what comes next: %s in %s", text, frames);
    } else if (step->hiding.hidden && alerts_again(&alerts->behind)) {
        alerts_tell_again(
            told, ALERT_SKYLINE, &alerts->behind,
            "stop here, or choose another target: %d frames since do not show this one",
            alerts->behind.frames);
    }
    return true;
}

void alerts_feed_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    if (step->compared && step->touched) {
        alerts->moved_deg = alerts->placed || alerts->moved_deg <= 0
                                ? step->moved_deg
                                : alerts->moved_deg + step->moved_deg;
        alerts->placed = false;
        alerts->touched_s = step->time_s;
        return; /* the next frame tells whether it has come to rest */
    }
    if (!step->on_target) {
        if (!alerts->placed && alerts->moved_deg > 0) {
            alerts_tell(told, ALERT_KNOCKED, "check the legs and clamps: it moved by %.2f°",
                        alerts->moved_deg);
            alerts->placed = true;
        }
        return;
    }
    bool ends = feed_skyline(told, alerts, step);
    if (!alerts->placed) {
        judge_aim(told, alerts, step);
    } else if (!ends) {
        follow_aim(told, alerts, step);
    }
}
