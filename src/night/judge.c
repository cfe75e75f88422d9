#include "night/judge.h"

#include "base/median.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const words[JUDGE_VERDICTS] = {"keep", "doubtful", "drop", "apart"};
static const char *const cause_keys[JUDGE_CAUSES] = {
    "", "unread", "kind", "unsolved", "blur", "stars", "width", "length", "sky", "target", "parts"};

const char *judge_word(enum judge_verdict verdict)
{
    return words[verdict];
}

const char *judge_cause_key(enum judge_cause cause)
{
    return cause_keys[cause];
}

/* Found on rendered nights: a third of the stars goes with 0.4 mag of cloud. */
static const struct judge_rules usual_rules = {
    .stars = {.doubtful = 0.7, .drop = 0.4},
    .width = {.doubtful = 1.25, .drop = 1.6},
    .length = {.doubtful = 1.4, .drop = 2.0},
    .sky = {.doubtful = 1.5, .drop = 2.5},
    .target = {.doubtful = 0.995, .drop = 0.5},
};

/* Star counts grow by 10 to this power a magnitude. */
static const double counts_per_mag = 0.45;

struct judge_rules judge_usual(void)
{
    return usual_rules;
}

double judge_sky(const struct night_frame *frame)
{
    const struct frame_health *health = &frame->health;
    bool by_second = health->black_known && frame->exposure_s > 0;
    return by_second ? health->sky_level / frame->exposure_s : health->sky_level;
}

double judge_length(const struct night_frame *frame)
{
    const struct frame_health *health = &frame->health;
    double trail = isfinite(health->trail_px) ? health->trail_px : 0;
    return hypot(health->fwhm_px, trail);
}

static double stars_of(const struct night_frame *frame)
{
    return frame->detected;
}

static double width_of(const struct night_frame *frame)
{
    return frame->health.fwhm_px;
}

/* NaN if no frame knows; value has room for all. */
static double usual_of(double *value, const struct night_frame *frame, int count,
                       double (*number)(const struct night_frame *frame))
{
    int known = 0;
    for (int i = 0; i < count; i++) {
        double x = frame[i].solved ? number(&frame[i]) : (double)NAN;
        if (isfinite(x)) {
            value[known++] = x;
        }
    }
    return median_middle(value, known);
}

int judge_find_usual(struct judge_usual_frame *usual, const struct night_frame *frame, int count,
                     struct error *err)
{
    double *value = malloc(((size_t)count + 1) * sizeof *value);
    if (!value) {
        return error_memory(err);
    }
    usual->frames = 0;
    for (int i = 0; i < count; i++) {
        usual->frames += frame[i].solved;
    }
    usual->stars = usual_of(value, frame, count, stars_of);
    usual->width_px = usual_of(value, frame, count, width_of);
    usual->length_px = usual_of(value, frame, count, judge_length);
    usual->sky = usual_of(value, frame, count, judge_sky);
    free(value);
    return 0;
}

/* Frames that health may judge although nothing was solved: it may just be a very cloudy sky. */
static bool is_apart(const struct night_frame *frame)
{
    return !frame->solved && frame->says && frame->health.look.kind != KIND_LIGHT;
}

static void set(struct judgement *judgement, enum judge_verdict verdict, enum judge_cause cause)
{
    judgement->verdict = verdict;
    judgement->cause = cause;
}

/* Keeps the first cause of the gravest verdict; true if it is to be put in words. */
static bool raise(struct judgement *judgement, double share, const struct judge_limit *limit,
                  bool below, enum judge_cause cause)
{
    double sign = below ? -1 : 1;
    enum judge_verdict verdict = JUDGE_KEEP;
    if (sign * share > sign * limit->drop) {
        verdict = JUDGE_DROP;
    } else if (sign * share > sign * limit->doubtful) {
        verdict = JUDGE_DOUBTFUL;
    }
    if (!isfinite(share) || verdict <= judgement->verdict) {
        return false;
    }
    set(judgement, verdict, cause);
    return true;
}

/* Wider stars are lower over the same sky: twice the width hides 0.75 mag of the faintest. What
 * that hides is no cloud. */
static double shown_by_width(double width)
{
    return isfinite(width) && width > 1 ? pow(width, -2.5 * counts_per_mag) : 1;
}

static void judge_numbers(struct judgement *j, const struct night_frame *frame,
                          const struct judge_usual_frame *usual, const struct judge_rules *rules)
{
    double stars = frame->detected / usual->stars;
    double width = frame->health.fwhm_px / usual->width_px;
    double length = judge_length(frame) / usual->length_px, sky = judge_sky(frame) / usual->sky;
    if (raise(j, stars / shown_by_width(width), &rules->stars, true, JUDGE_STARS)) {
        snprintf(j->reason, sizeof j->reason, "%d stars, %.0f %% of the usual: cloud, haze or dew",
                 frame->detected, 100 * stars);
    }
    if (raise(j, width, &rules->width, false, JUDGE_WIDTH)) {
        snprintf(j->reason, sizeof j->reason,
                 "stars %.1f px wide, %.2g times the usual: out of focus, haze or dew",
                 frame->health.fwhm_px, width);
    }
    if (raise(j, length, &rules->length, false, JUDGE_LENGTH)) {
        snprintf(j->reason, sizeof j->reason,
                 "stars %.1f px long, %.2g times the usual: wind or a touched tripod",
                 judge_length(frame), length);
    }
    if (raise(j, sky, &rules->sky, false, JUDGE_SKY)) {
        snprintf(j->reason, sizeof j->reason, "the sky is %.2g times as bright as usual", sky);
    }
    double share = frame->target.name[0] ? frame->target.share : (double)NAN;
    if (raise(j, share, &rules->target, true, JUDGE_PLACE)) {
        snprintf(j->reason, sizeof j->reason,
                 share > 0 ? "only %.0f %% of the target is in the frame"
                           : "the target is not in it",
                 100 * share);
    }
}

static void judge_faults(struct judgement *j, const struct night_frame *frame)
{
    static const enum health_fault parts[] = {HEALTH_HIDDEN, HEALTH_UNEVEN};
    unsigned faults = frame->health.faults;
    if (faults & (1U << HEALTH_DOUBLE | 1U << HEALTH_MOTION)) {
        set(j, JUDGE_DROP, JUDGE_BLUR);
        snprintf(j->reason, sizeof j->reason, "%s", night_frame_says(frame));
    }
    for (size_t i = 0; i < 2; i++) {
        if (j->verdict == JUDGE_KEEP && faults & 1U << parts[i]) {
            set(j, JUDGE_DOUBTFUL, JUDGE_PARTS);
            snprintf(j->reason, sizeof j->reason, "%s",
                     parts[i] == HEALTH_HIDDEN ? "stars are missing in a part of the picture"
                                               : "stars are dim in a part of the picture: cloud");
        }
    }
}

void judge_frame(struct judgement *judgement, const struct night_frame *frame,
                 const struct judge_usual_frame *usual, const struct judge_rules *rules)
{
    memset(judgement, 0, sizeof *judgement);
    const char *why = night_frame_why(frame);
    if (!frame->read) {
        set(judgement, JUDGE_DROP, JUDGE_UNREAD);
    } else if (is_apart(frame)) {
        set(judgement, JUDGE_APART, JUDGE_KIND);
        why = night_frame_says(frame);
    } else if (!frame->solved) {
        set(judgement, JUDGE_DROP, JUDGE_UNSOLVED);
    } else {
        judge_faults(judgement, frame);
        judge_numbers(judgement, frame, usual, rules);
        return;
    }
    snprintf(judgement->reason, sizeof judgement->reason, "%.239s", why);
}
