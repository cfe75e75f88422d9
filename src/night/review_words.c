#include "night/review.h"

#include "base/shutter.h"
#include "night/night_unite.h"
#include "tripod/batch_length.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* An exposure longer by less is the planned one, half a third of a stop; and a batch that differs
 * by less. */
static const double same_exposure = 1.12, same_batch = 0.1;
/* Share of the frames that must trail for advice on exposures. */
static const double trailing_share = 0.5;
/* Of so many lights, one must have an exposure for advice on its darks. */
enum { LIGHTS_PER_RARE = 10 };

void review_write_duration(char *out, size_t size, double seconds)
{
    long s = lround(seconds);
    if (s >= 3600) {
        snprintf(out, size, "%ld h %ld min", s / 3600, s % 3600 / 60);
    } else if (s >= 60 && s % 60) {
        snprintf(out, size, "%ld min %ld s", s / 60, s % 60);
    } else if (s >= 60) {
        snprintf(out, size, "%ld min", s / 60);
    } else {
        snprintf(out, size, "%ld s", s);
    }
}

void review_write_time(char *out, size_t size, const struct review *review, double time_s)
{
    char text[40];
    if (!isfinite(time_s)) {
        snprintf(out, size, "?");
        return;
    }
    time_write(text, sizeof text, time_add(review->start, time_s), 0);
    snprintf(out, size, "%.8s", text + 11);
}

void review_write_answer(char *out, size_t size, const struct review *review)
{
    int lights = review->frames - review->count[JUDGE_APART];
    char kept[40];
    review_write_duration(kept, sizeof kept, review->kept_s);
    if (!lights) {
        snprintf(out, size, "None of the %d frames shows the sky", review->frames);
    } else if (!review->usual.frames) {
        snprintf(out, size, "None of the %d frames could be solved", lights);
    } else if (review->kept_s > 0) {
        snprintf(out, size, "Keep %d of %d frames: %s%s%s", review->count[JUDGE_KEEP], lights, kept,
                 review->has_target ? " on " : " of exposure",
                 review->has_target ? review->target.name : "");
    } else {
        snprintf(out, size, "Keep %d of %d frames", review->count[JUDGE_KEEP], lights);
    }
}

struct advice {
    char (*text)[REVIEW_TEXT_SIZE];
    int count;
};

static char *next(struct advice *advice)
{
    return advice->count < REVIEW_MOST_ADVICE ? advice->text[advice->count++] : NULL;
}

/* Of a frame that trails beyond what is accepted, the exposure that is; else NaN. */
static double exposure_instead(const struct night_frame *f, const struct night_plan *plan)
{
    if (!f->solved || (!plan && !(f->health.faults & 1U << HEALTH_TRAILS))) {
        return (double)NAN;
    }
    if (!plan) {
        return f->health.limit_exposure_s;
    }
    bool longer = !f->health.follows && f->exposure_s > same_exposure * plan->exposure_s;
    return longer ? plan->exposure_s : (double)NAN;
}

/* If most frames trail beyond the limit. */
static void advise_exposure(struct advice *advice, const struct review *review)
{
    int trailing = 0, solved = 0;
    double limit = (double)NAN;
    for (int i = 0; i < review->frames; i++) {
        const struct night_frame *f = review->frame[i].frame;
        double instead = exposure_instead(f, review->plan);
        solved += f->solved;
        trailing += isfinite(instead);
        limit = fmin(limit, instead);
    }
    char *text = trailing > trailing_share * solved && isfinite(limit) ? next(advice) : NULL;
    if (text) {
        char exposure[24];
        shutter_write(exposure, sizeof exposure, limit);
        snprintf(
            text, REVIEW_TEXT_SIZE,
            "expose for %s%s, with a higher ISO or a wider aperture: stars trail in most frames",
            exposure, review->plan ? " as planned" : "");
    }
}

/* What a batch would be like, as the best frame shows the lens; decided: so many frames of it, or
 * 0. */
static bool find_batch(struct batch_length *batch, const struct review *review, long decided)
{
    struct wcs wcs;
    if (review->reference < 0 || !(review->cadence_s > 0) || !(review->drift_px_s > 0)) {
        return false;
    }
    const struct night_frame *frame = review->frame[review->reference].frame;
    const struct batch_wish wish = {.exposure_s = frame->exposure_s,
                                    .cadence_s = review->cadence_s,
                                    .decided = decided,
                                    .accept =
                                        review->plan ? review->plan->accept : batch_accept_usual()};
    if (!night_frame_wcs(&wcs, frame)) {
        return false;
    }
    struct sky_ellipse point = {.ra_deg = frame->ra_deg, .dec_deg = frame->dec_deg};
    batch_length_find(batch, &wcs, review->start,
                      review->has_target ? &review->target.shape : &point, &wish);
    return true;
}

/* What the plan said, and what would change it. */
static void advise_plan(char text[REVIEW_TEXT_SIZE], const struct batch_length *own,
                        const struct review *review)
{
    const struct night_plan *plan = review->plan;
    int planned = night_plan_batch(plan, review->cadence_s);
    struct batch_length as_planned;
    char exposure[24], span[40];
    shutter_write(exposure, sizeof exposure, plan->exposure_s);
    review_write_duration(span, sizeof span, planned * review->cadence_s);
    if (fabs((double)own->frames - planned) <= fmax(1, same_batch * planned)) {
        snprintf(text, REVIEW_TEXT_SIZE, "keep to the plan: %s, re-centre every %d frames (%s)",
                 exposure, planned, span);
    } else if (own->frames < planned && find_batch(&as_planned, review, planned)) {
        snprintf(text, REVIEW_TEXT_SIZE,
                 "re-centre every %ld frames instead of the %d planned: with the lens as these "
                 "frames show it, stars at the edge widen by %.0f %% in %d",
                 own->frames, planned, 100 * as_planned.widening, planned);
    } else {
        snprintf(text, REVIEW_TEXT_SIZE,
                 "re-centre every %d frames (%s) as planned; this lens allows %ld", planned, span,
                 own->frames);
    }
}

static void advise_batches(struct advice *advice, const struct review *review)
{
    struct batch_length batch;
    char span[40], why[200];
    char *text = find_batch(&batch, review, 0) ? next(advice) : NULL;
    if (!text) {
        return;
    }
    if (review->plan) {
        advise_plan(text, &batch, review);
        return;
    }
    review_write_duration(span, sizeof span, batch.span_s);
    batch_write_reason(why, sizeof why, &batch);
    snprintf(text, REVIEW_TEXT_SIZE, "re-centre every %ld frames (%s)%s", batch.frames, span, why);
}

/* One sentence for all events of a kind, with the time of the first. */
static void advise_events(struct advice *advice, const struct review *review,
                          enum review_event_kind kind, const char *what, const char *cure)
{
    char from[24], more[40] = "", *text;
    int first = -1, others = 0;
    for (int i = 0; i < review->events; i++) {
        if (review->event[i].kind == kind) {
            others += first >= 0;
            first = first < 0 ? i : first;
        }
    }
    if (first < 0 || !(text = next(advice))) {
        return;
    }
    review_write_time(from, sizeof from, review, review->frame[review->event[first].first].time_s);
    from[5] = '\0';
    if (others) {
        snprintf(more, sizeof more, " and %d more time%s", others, others == 1 ? "" : "s");
    }
    snprintf(text, REVIEW_TEXT_SIZE, "%s: %s at %s%s", cure, what, from, more);
}

void review_write_copies(char *out, size_t size, const struct review *review)
{
    night_copies_write(out, size, review->copies);
}

bool review_write_crop(char *out, size_t size, const struct review *review)
{
    const struct review_cover *cover = &review->cover;
    if (cover->crop_width <= 0 || cover->rims == 0) {
        return false;
    }
    snprintf(out, size, "%s is %s in it", review->target.name,
             cover->crop_holds == cover->rims ? "wholly"
             : cover->crop_holds > 0          ? "partly"
                                              : "not");
    return true;
}

static void advise_card(struct advice *advice, const struct review *review)
{
    char *text = review->unread_device ? next(advice) : NULL;
    if (text) {
        snprintf(text, REVIEW_TEXT_SIZE,
                 "copy the card now and use another one: %d frame%s had read errors; review again, "
                 "some may be read then",
                 review->unread_device, review->unread_device == 1 ? "" : "s");
    }
}

static void advise_calibration(struct advice *advice, const struct review *review)
{
    char *text;
    for (int i = 0; i < review->needs; i++) {
        const struct review_need *need = &review->need[i];
        if (need->darks < REVIEW_DARKS && need->lights * LIGHTS_PER_RARE >= review->usual.frames &&
            (text = next(advice))) {
            snprintf(text, REVIEW_TEXT_SIZE,
                     "take %d more dark frames of %.4g s%s, right after the lights with the cap on",
                     REVIEW_DARKS - need->darks, need->exposure_s,
                     need->iso > 0 ? " at the same ISO" : "");
        }
    }
    int bias = REVIEW_BIAS - review->kind[KIND_BIAS],
        flats = REVIEW_FLATS - review->kind[KIND_FLAT];
    if ((bias > 0 || flats > 0) && (text = next(advice))) {
        char missing[2][40] = {"", ""};
        if (bias > 0) {
            snprintf(missing[0], sizeof missing[0], "%d bias frames", bias);
        }
        if (flats > 0) {
            snprintf(missing[1], sizeof missing[1], "%d flats", flats);
        }
        snprintf(text, REVIEW_TEXT_SIZE, "take %s%s%s too", missing[0],
                 bias > 0 && flats > 0 ? " and " : "", missing[1]);
    }
}

int review_advise(char text[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE], const struct review *review)
{
    struct advice advice = {.text = text};
    advise_card(&advice, review);
    if (review->usual.frames) {
        advise_exposure(&advice, review);
        advise_batches(&advice, review);
        advise_events(&advice, review, REVIEW_FOCUS, "focus was lost",
                      "refocus every half hour, and look for dew on the lens");
        advise_events(&advice, review, REVIEW_KNOCKED, "it was moved",
                      "weigh the tripod down, and use a remote release");
        advise_events(&advice, review, REVIEW_TRAILS, "it shook",
                      "shelter the camera from wind, and wait after touching it");
    }
    advise_calibration(&advice, review);
    return advice.count;
}
