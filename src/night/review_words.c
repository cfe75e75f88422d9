#include "night/night_unite.h"
#include "night/review.h"

#include "tripod/smear.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A batch may drift by so much of the picture's shorter side, and its stars may miss each other by
 * so much at the edge. */
static const double batch_drift_share = 0.4, batch_smear_px = 1;
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
        snprintf(out, size, "No frame of the sky among %d", review->frames);
    } else if (!review->usual.frames) {
        snprintf(out, size, "None of %d frames can be placed on the sky", lights);
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

/* If most frames trail beyond the limit. */
static void advise_exposure(struct advice *advice, const struct review *review)
{
    int trailing = 0, solved = 0;
    double limit = (double)NAN;
    for (int i = 0; i < review->frames; i++) {
        const struct night_frame *f = review->frame[i].frame;
        bool trails = f->solved && f->health.faults & 1U << HEALTH_TRAILS;
        solved += f->solved;
        trailing += trails;
        limit = trails ? fmin(limit, f->health.limit_exposure_s) : limit;
    }
    char *text = trailing > trailing_share * solved && isfinite(limit) ? next(advice) : NULL;
    if (text) {
        snprintf(
            text, REVIEW_TEXT_SIZE,
            "stars trail in most frames: expose for %.2g s instead, with a higher ISO or a wider "
            "aperture",
            limit);
    }
}

static void advise_batches(struct advice *advice, const struct review *review)
{
    struct wcs wcs;
    if (review->reference < 0 || !(review->interval_s > 0) ||
        !night_frame_wcs(&wcs, review->frame[review->reference].frame) ||
        !(review->drift_px_s > 0)) {
        return;
    }
    double side = wcs.width < wcs.height ? wcs.width : wcs.height;
    double by_edge = batch_drift_share * side / review->drift_px_s;
    double by_smear = smear_time(&wcs, review->start, SMEAR_HOMOGRAPHY, batch_smear_px, by_edge);
    double seconds = fmin(by_edge, by_smear);
    int frames = (int)(seconds / review->interval_s);
    char *text = frames > 0 ? next(advice) : NULL, span[40];
    review_write_duration(span, sizeof span, seconds);
    if (text) {
        snprintf(text, REVIEW_TEXT_SIZE, "re-centre every %d frames (%s): %s", frames, span,
                 by_smear < by_edge
                     ? "beyond that, stars at the edge miss each other by more than 1 px"
                     : "in that time the sky drifts by 0.4 of the picture's shorter side");
    }
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
        snprintf(more, sizeof more, " and %d time%s more", others, others == 1 ? "" : "s");
    }
    snprintf(text, REVIEW_TEXT_SIZE, "%s at %s%s: %s", what, from, more, cure);
}

void review_write_copies(char *out, size_t size, const struct review *review)
{
    night_copies_write(out, size, review->copies);
}

static void advise_card(struct advice *advice, const struct review *review)
{
    char *text = review->unread_device ? next(advice) : NULL;
    if (text) {
        snprintf(text, REVIEW_TEXT_SIZE,
                 "copy what is on the card and use another one: %d frame%s met read errors, and "
                 "may be read another time",
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
        snprintf(text, REVIEW_TEXT_SIZE, "%s%.0d%s%s%.0d%s", "also missing: ", bias > 0 ? bias : 0,
                 bias > 0 ? " bias frames" : "", bias > 0 && flats > 0 ? " and " : "",
                 flats > 0 ? flats : 0, flats > 0 ? " flats" : "");
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
                      "focus again every half hour, and look for dew on the lens");
        advise_events(&advice, review, REVIEW_KNOCKED, "the tripod was moved",
                      "weigh it down, use a remote release");
        advise_events(&advice, review, REVIEW_TRAILS, "the camera shook",
                      "shelter it from wind, wait after touching it");
    }
    advise_calibration(&advice, review);
    return advice.count;
}
