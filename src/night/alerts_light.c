#include "night/alerts_parts.h"

#include "base/median.h"

#include <math.h>
#include <string.h>

static const double cloud_mag = 0.5, clear_mag = 0.25;     /* of light lost */
static const double cloud_stars = 0.5, clear_stars = 0.7;  /* of the usual number */
static const double soft_ratio = 1.25, sharp_ratio = 1.12; /* of the best width of stars */
static const double dew_ratio = 1.15, dew_mag = 0.3;
/* What a cleaner air or a better focus was worth an hour ago counts a little less now. */
static const double fading_mag_h = 0.4;
/* Of the sky's level: where it is counted from black, from an unknown black, and on a curve. */
static const double brighter = 1.5, brighter_unknown = 1.3, brighter_curved = 1.2;

static void level_feed(struct alert_level *level, double value)
{
    if (isfinite(value)) {
        level->recent[level->count++ % ALERT_RECENT] = value;
    }
}

/* The median of the latest; NAN before there are enough. */
static double level_now(const struct alert_level *level)
{
    double sorted[ALERT_RECENT];
    if (level->count < ALERT_RECENT) {
        return (double)NAN;
    }
    memcpy(sorted, level->recent, sizeof sorted);
    return median_of(sorted, ALERT_RECENT);
}

/* sign 1: the larger the better. fading: how much an earlier best loses. */
static void level_learn(struct alert_level *level, int sign, double fading)
{
    double now = level_now(level);
    if (!isfinite(now)) {
        return;
    }
    bool first = level->count == ALERT_RECENT && level->best == 0;
    double faded = level->best - sign * fading;
    level->best = first || sign * (now - faded) > 0 ? now : faded;
}

/* 0 while it is not known. */
static double level_best(const struct alert_level *level)
{
    return level->count < ALERT_RECENT ? 0 : level->best;
}

void alerts_forget_light(struct alerts *alerts)
{
    alerts->zero = alerts->stars = alerts->fwhm = alerts->sky = (struct alert_level){0};
    alerts->cloud = alerts->dew = alerts->focus = (struct alert_rule){0};
    alerts->trails = alerts->motion = (struct alert_rule){0};
}

/* Against the best that was: light lost in magnitudes (NAN: unknown), share of the stars that show,
 * and how much wider they are. */
struct loss {
    double mag, stars, width;
    double width_here; /* of this frame alone; else of the latest */
};

static void find_loss(struct loss *loss, const struct alerts *alerts,
                      const struct night_frame *frame)
{
    const double unknown = (double)NAN;
    double zero = level_best(&alerts->zero), stars = level_best(&alerts->stars);
    double fwhm = level_best(&alerts->fwhm), now = level_now(&alerts->fwhm);
    loss->mag = zero != 0 ? zero - frame->health.zero_mag : unknown;
    loss->stars = stars > 0 ? frame->detected / stars : unknown;
    loss->width = fwhm > 0 ? now / fwhm : unknown;
    loss->width_here = fwhm > 0 ? frame->health.fwhm_px / fwhm : unknown;
}

static void feed_levels(struct alerts *alerts, const struct night_frame *frame, double passed_s)
{
    double fading = fading_mag_h * passed_s / 3600;
    level_feed(&alerts->fwhm, frame->health.fwhm_px);
    level_learn(&alerts->fwhm, -1, 0);
    if (alerts->cloud.raised || alerts->cloud.bad || alerts->dew.raised) {
        return; /* what is lost now is held against what was before */
    }
    level_feed(&alerts->zero, frame->health.zero_mag);
    level_feed(&alerts->stars, frame->detected);
    level_learn(&alerts->zero, 1, fading);
    level_learn(&alerts->stars, 1, alerts->stars.best * fading);
}

/* What is taken through a cloud that stays. */
static void repeat_cloud(struct told *told, struct alert_rule *rule, const struct loss *loss)
{
    bool known = isfinite(loss->mag);
    if (rule->raised && rule->good == 0 && alerts_again(rule)) {
        alerts_tell_again(told, ALERT_CLOUD, rule,
                          "wait, or aim where it is clear: %d frames since with %.0f %% of the %s",
                          rule->frames, 100 * (known ? pow(10, -0.4 * loss->mag) : loss->stars),
                          known ? "light" : "stars");
    }
}

static void feed_cloud(struct told *told, struct alerts *alerts, const struct loss *loss)
{
    bool known = isfinite(loss->mag);
    bool bad = known ? loss->mag > cloud_mag : loss->stars < cloud_stars;
    bool good = known ? loss->mag < clear_mag : loss->stars > clear_stars;
    bool wide = loss->width > dew_ratio || loss->width_here > dew_ratio || alerts->focus.raised ||
                alerts->dew.raised;
    switch (alerts_rule(&alerts->cloud, bad && !wide, good, ON_SOON, OFF_SOON)) {
    case BEGUN:
        if (known) {
            alerts_tell(told, ALERT_CLOUD,
                        "wait, or aim where it is clear: the stars have lost %.1f magnitudes",
                        loss->mag);
        } else {
            alerts_tell(told, ALERT_CLOUD,
                        "wait, or aim where it is clear: only %.0f %% of the stars are left",
                        100 * loss->stars);
        }
        break;
    case OVER:
        alerts_tell(told, ALERT_CLEAR, "the stars are back");
        break;
    case SAME:
        repeat_cloud(told, &alerts->cloud, loss);
        break;
    }
}

/* The same end has dew that dries and a focus that is found again. */
static void tell_focus(struct told *told, enum turn turn, enum alert_kind kind, double now,
                       double best)
{
    if (turn == OVER) {
        alerts_tell(told, ALERT_SHARP, "stars are %.1f px wide", now);
    } else if (turn == BEGUN && kind == ALERT_DEW) {
        alerts_tell(told, kind,
                    "warm and dry the front lens: stars fade and widen, %.1f px instead of %.1f",
                    now, best);
    } else if (turn == BEGUN) {
        alerts_tell(told, kind,
                    "refocus on a bright star: stars are %.1f px wide, at best they were %.1f", now,
                    best);
    }
}

/* What nobody has mended. */
static void repeat_focus(struct told *told, struct alert_rule *rule, enum alert_kind kind,
                         double now, double best)
{
    const char *act = kind == ALERT_DEW ? "warm and dry the front lens" : "refocus";
    if (rule->raised && rule->good == 0 && alerts_again(rule)) {
        alerts_tell_again(
            told, kind, rule,
            "%s: %d frames since with stars %.1f px wide instead of %.1f, which show less than the "
            "others",
            act, rule->frames, now, best);
    }
}

/* Wider stars that lose no light are out of focus; dew scatters their light away. Defocus costs
 * faint stars too, so numbers count only where light is not known. */
static void feed_focus(struct told *told, struct alerts *alerts, const struct loss *loss)
{
    bool dim = isfinite(loss->mag) ? loss->mag > dew_mag : loss->stars < cloud_stars;
    bool soft = loss->width > soft_ratio, wet = loss->width > dew_ratio && dim;
    bool sharp = loss->width < sharp_ratio;
    double best = level_best(&alerts->fwhm), now = level_now(&alerts->fwhm);
    if (!alerts->focus.raised && !alerts->cloud.raised) {
        enum turn turn = alerts_rule(&alerts->dew, wet, sharp, ON_SOON, OFF_SURE);
        tell_focus(told, turn, ALERT_DEW, now, best);
        if (turn == SAME) {
            repeat_focus(told, &alerts->dew, ALERT_DEW, now, best);
        }
    }
    if (alerts->dew.raised || alerts->dew.bad) {
        return;
    }
    /* One is enough: a median has settled it. */
    enum turn turn = alerts_rule(&alerts->focus, soft, sharp, 1, OFF_SOON);
    tell_focus(told, turn, ALERT_FOCUS, now, best);
    if (turn == SAME) {
        repeat_focus(told, &alerts->focus, ALERT_FOCUS, now, best);
    }
}

static void feed_sky(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    const struct frame_health *health = &frame->health;
    double limit = !health->linear       ? brighter_curved
                   : health->black_known ? brighter
                                         : brighter_unknown;
    if (alerts->cloud.raised || alerts->cloud.bad) {
        return; /* lit by the town; it will go */
    }
    level_feed(&alerts->sky, health->sky_share);
    double now = level_now(&alerts->sky), best = level_best(&alerts->sky);
    if (best > 0 && now > limit * best) {
        alerts_tell(told, ALERT_SKY,
                    "look for lamps, Moon or dawn: its level is now %.1f %% of full scale, it was "
                    "%.1f %%",
                    100 * now, 100 * best);
        alerts->sky.best = now; /* the next word when it has grown as much again */
    } else {
        level_learn(&alerts->sky, -1, 0);
    }
}

static void feed_trails(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    unsigned faults = frame->health.faults;
    bool shaken = faults & (1U << HEALTH_MOTION | 1U << HEALTH_DOUBLE);
    bool drifts = faults & 1U << HEALTH_TRAILS;
    /* The drift is as long in every frame until the exposure is changed, which forgets it. */
    enum turn drift = alerts_rule(&alerts->trails, drifts, false, ON_SURE, OFF_SURE);
    enum turn motion = alerts_rule(&alerts->motion, shaken, !shaken, ON_SURE, OFF_SURE);
    if (drift == BEGUN || motion == BEGUN) {
        alerts_tell(told, ALERT_TRAILS, "%s%s",
                    motion == BEGUN ? "shelter the camera, and wait after touching it: " : "",
                    night_frame_says(frame));
    } else if (alerts->trails.raised && drifts && alerts_again(&alerts->trails)) {
        alerts_tell_again(told, ALERT_TRAILS, &alerts->trails, "%d frames since: %s",
                          alerts->trails.frames, night_frame_says(frame));
    } else if (alerts->motion.raised && shaken && alerts_again(&alerts->motion)) {
        alerts_tell_again(told, ALERT_TRAILS, &alerts->motion,
                          "%d frames since with a shaken camera, worth nothing in a stack: %s",
                          alerts->motion.frames, night_frame_says(frame));
    } else if (motion == OVER) {
        alerts_tell(told, ALERT_STEADY, "stars are points again");
    }
}

void alerts_feed_light(struct told *told, struct alerts *alerts, const struct night_frame *frame,
                       double passed_s)
{
    struct loss loss;
    feed_levels(alerts, frame, passed_s);
    find_loss(&loss, alerts, frame);
    feed_cloud(told, alerts, &loss);
    feed_focus(told, alerts, &loss);
    feed_sky(told, alerts, frame);
    feed_trails(told, alerts, frame);
}
