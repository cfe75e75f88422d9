#include "night/alerts.h"

#include "base/median.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* In a row, before something is told, and before it counts as over. */
enum { ON_SOON = 2, ON_SURE = 3, OFF_SOON = 3, OFF_SURE = 8 };

static const double cloud_mag = 0.5, clear_mag = 0.25;     /* of light lost */
static const double cloud_stars = 0.5, clear_stars = 0.7;  /* of the usual number */
static const double soft_ratio = 1.25, sharp_ratio = 1.12; /* of the best width of stars */
static const double dew_ratio = 1.15, dew_mag = 0.3;
/* What a cleaner air or a better focus was worth an hour ago counts a little less now. */
static const double fading_mag_h = 0.4;
/* Of the sky's level: where it is counted from black, from an unknown black, and on a curve. */
static const double brighter = 1.5, brighter_unknown = 1.3, brighter_curved = 1.2;
static const double focal_change = 0.004, settings_change = 0.02;
static const double good_share = 0.75;   /* of the longest batch possible */
static const double gained_share = 0.25; /* of it, by a move that was meant */
static const double low_frames = 200, enough_frames = 300;

static const struct {
    const char *title, *key;
    bool loud, wants_move;
} kinds[] = {
    [ALERT_NEAR_EDGE] = {"RE-CENTRE SOON", "near-edge", true, true},
    [ALERT_RECENTRE] = {"RE-CENTRE NOW", "recentre", true, true},
    [ALERT_CENTRED] = {"WELL AIMED", "centred", true, false},
    [ALERT_STILL_OFF] = {"STILL OFF", "still-off", true, true},
    [ALERT_KNOCKED] = {"THE TRIPOD MOVED", "knocked", true, true},
    [ALERT_CLOUD] = {"CLOUD", "cloud", true, false},
    [ALERT_DEW] = {"DEW ON THE LENS", "dew", true, false},
    [ALERT_FOCUS] = {"FOCUS DRIFTS", "focus", true, false},
    [ALERT_TRAILS] = {"STARS TRAIL", "trails", true, false},
    [ALERT_SKY] = {"THE SKY BRIGHTENS", "bright-sky", true, false},
    [ALERT_NO_SKY] = {"NO SKY IN THE FRAMES", "no-sky", true, false},
    [ALERT_UNSOLVED] = {"FRAMES DO NOT SOLVE", "unsolved", true, false},
    [ALERT_EXPOSURE] = {"SETTINGS CHANGED", "settings", true, false},
    [ALERT_FOCAL] = {"FOCAL LENGTH CHANGED", "focal", true, false},
    [ALERT_CLOCK] = {"THE CAMERA'S CLOCK JUMPED", "clock", true, false},
    [ALERT_SILENCE] = {"NO NEW FRAME", "silence", true, false},
    [ALERT_DISK] = {"DISK NEARLY FULL", "disk", true, false},
    [ALERT_CLEAR] = {"clear again", "clear", false, false},
    [ALERT_SHARP] = {"sharp again", "sharp", false, false},
    [ALERT_STEADY] = {"steady again", "steady", false, false},
    [ALERT_LIGHT] = {"the sky is back", "light", false, false},
};

const char *alert_title(enum alert_kind kind)
{
    return kinds[kind].title;
}

const char *alert_key(enum alert_kind kind)
{
    return kinds[kind].key;
}

bool alert_is_loud(enum alert_kind kind)
{
    return kinds[kind].loud;
}

bool alert_wants_move(enum alert_kind kind)
{
    return kinds[kind].wants_move;
}

/* The list that a call fills. */
struct told {
    struct alert *out;
    int count;
};

__attribute__((format(printf, 3, 4))) static void tell(struct told *told, enum alert_kind kind,
                                                       const char *format, ...)
{
    if (told->count == ALERTS_MOST) {
        return;
    }
    struct alert *alert = &told->out[told->count++];
    va_list arguments;
    va_start(arguments, format);
    alert->kind = kind;
    vsnprintf(alert->text, sizeof alert->text, format, arguments);
    va_end(arguments);
}

enum turn { SAME, BEGUN, OVER };

static enum turn rule_feed(struct alert_rule *rule, bool bad, bool good, int on, int off)
{
    rule->bad = bad ? rule->bad + 1 : 0;
    rule->good = good ? rule->good + 1 : 0;
    if (!rule->raised && rule->bad >= on) {
        rule->raised = true;
        return BEGUN;
    }
    if (rule->raised && rule->good >= off) {
        rule->raised = false;
        return OVER;
    }
    return SAME;
}

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

static void forget_levels(struct alerts *alerts)
{
    alerts->zero = alerts->stars = alerts->fwhm = alerts->sky = (struct alert_level){0};
    alerts->cloud = alerts->dew = alerts->focus = (struct alert_rule){0};
    alerts->trails = alerts->motion = (struct alert_rule){0};
}

static bool differs(double a, double b)
{
    return a > 0 && b > 0 && fabs(a - b) > settings_change * b;
}

static bool settings_differ(const struct alert_settings *a, const struct alert_settings *b)
{
    return differs(a->exposure_s, b->exposure_s) || differs(a->iso, b->iso) ||
           differs(a->f_number, b->f_number) || differs(a->focal_mm, b->focal_mm);
}

static void add_change(char *out, size_t size, const char *label, const char *unit, double from,
                       double to)
{
    size_t used = strlen(out);
    if (differs(to, from) && used < size) {
        snprintf(out + used, size - used, "%s%s%.4g%s, was %.4g%s", used ? "; " : "", label, to,
                 unit, from, unit);
    }
}

static void tell_settings(struct told *told, const struct alert_settings *from,
                          const struct alert_settings *to)
{
    char text[200] = "";
    add_change(text, sizeof text, "exposure ", " s", from->exposure_s, to->exposure_s);
    add_change(text, sizeof text, "ISO ", "", from->iso, to->iso);
    add_change(text, sizeof text, "aperture f/", "", from->f_number, to->f_number);
    add_change(text, sizeof text, "focal length ", " mm", from->focal_mm, to->focal_mm);
    tell(told, ALERT_EXPOSURE, "%s", text);
}

/* Returns whether the frame may be compared with those before it. */
static bool feed_settings(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    struct alert_settings now = {frame->exposure_s, frame->iso, frame->f_number, frame->focal_mm};
    if (!alerts->has_settings) {
        alerts->settings = now;
        alerts->has_settings = true;
    }
    bool changed = settings_differ(&now, &alerts->settings);
    if (rule_feed(&alerts->exposure, changed, !changed, ON_SOON, 1) == BEGUN) {
        tell_settings(told, &alerts->settings, &now);
        alerts->settings = now;
        alerts->exposure = (struct alert_rule){0};
        forget_levels(alerts);
        return true;
    }
    return !changed;
}

static void feed_focal(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    if (!frame->solved) {
        return;
    }
    if (alerts->scale_arcsec <= 0) {
        alerts->scale_arcsec = frame->scale_arcsec;
    }
    double ratio = alerts->scale_arcsec / frame->scale_arcsec; /* longer: above 1 */
    bool changed = fabs(ratio - 1) > focal_change;
    if (rule_feed(&alerts->focal, changed, !changed, ON_SOON, 1) == BEGUN) {
        tell(told, ALERT_FOCAL, "the stars say it has become %.1f %% %s", 100 * fabs(ratio - 1),
             ratio > 1 ? "longer" : "shorter");
        alerts->scale_arcsec = frame->scale_arcsec;
        alerts->focal = (struct alert_rule){0};
        forget_levels(alerts);
    }
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

static void feed_cloud(struct told *told, struct alerts *alerts, const struct loss *loss)
{
    bool known = isfinite(loss->mag);
    bool bad = known ? loss->mag > cloud_mag : loss->stars < cloud_stars;
    bool good = known ? loss->mag < clear_mag : loss->stars > clear_stars;
    bool wide = loss->width > dew_ratio || loss->width_here > dew_ratio || alerts->focus.raised ||
                alerts->dew.raised;
    switch (rule_feed(&alerts->cloud, bad && !wide, good, ON_SOON, OFF_SOON)) {
    case BEGUN:
        if (known) {
            tell(told, ALERT_CLOUD, "the stars have lost %.1f magnitudes", loss->mag);
        } else {
            tell(told, ALERT_CLOUD, "only %.0f %% of the stars are left", 100 * loss->stars);
        }
        break;
    case OVER:
        tell(told, ALERT_CLEAR, "the stars are back");
        break;
    case SAME:
        break;
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
        switch (rule_feed(&alerts->dew, wet, sharp, ON_SOON, OFF_SURE)) {
        case BEGUN:
            tell(told, ALERT_DEW,
                 "stars fade and widen, %.1f px instead of %.1f; warm and dry the front lens", now,
                 best);
            break;
        case OVER:
            tell(told, ALERT_SHARP, "stars are %.1f px wide", now);
            break;
        case SAME:
            break;
        }
    }
    if (alerts->dew.raised || alerts->dew.bad) {
        return;
    }
    switch (rule_feed(&alerts->focus, soft, sharp, 1, OFF_SOON)) { /* a median has settled it */
    case BEGUN:
        tell(told, ALERT_FOCUS, "stars are %.1f px wide, they were %.1f at best", now, best);
        break;
    case OVER:
        tell(told, ALERT_SHARP, "stars are %.1f px wide", now);
        break;
    case SAME:
        break;
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
        tell(told, ALERT_SKY, "its level is now %.1f %% of full scale, it was %.1f %%", 100 * now,
             100 * best);
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
    /* The drift is as long in every frame until the exposure is changed: told once. */
    enum turn drift = rule_feed(&alerts->trails, drifts, false, ON_SURE, OFF_SURE);
    enum turn motion = rule_feed(&alerts->motion, shaken, !shaken, ON_SURE, OFF_SURE);
    if (drift == BEGUN || motion == BEGUN) {
        tell(told, ALERT_TRAILS, "%s", frame->says);
    } else if (motion == OVER) {
        tell(told, ALERT_STEADY, "stars are points again");
    }
}

static void feed_light(struct told *told, struct alerts *alerts, const struct night_frame *frame,
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

static double frames_left(const struct night_step *step)
{
    if (!step->drift.inside) {
        return 0;
    }
    return step->drift.changes && step->every_s > 0 ? step->drift.change_s / step->every_s
                                                    : (double)INFINITY;
}

static void tell_place(struct told *told, enum alert_kind kind, const struct night_step *step,
                       double left)
{
    const char *edge = frame_edge_word(step->drift.edge);
    if (!step->drift.inside) {
        tell(told, kind, "the target is not wholly in the safe part of the frame");
    } else if (isfinite(left)) {
        tell(told, kind, "the target leaves the safe part at the %s in %.0f frame%s", edge,
             floor(left), left >= 2 || left < 1 ? "s" : "");
    } else {
        tell(told, kind, "the target stays in the safe part for hours");
    }
}

/* After the camera was moved, or at the start. */
static void judge_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double left = frames_left(step);
    double wanted = alerts->wish.batch > 0 ? alerts->wish.batch : (double)INFINITY;
    wanted = step->longest > 0 ? fmin(wanted, step->longest) : wanted;
    bool good = step->drift.inside && (left >= good_share * wanted || !isfinite(wanted));
    bool start = alerts->moved_deg <= 0, asked = alerts->aim != PLACE_FINE;
    bool better = left > alerts->left + gained_share * (isfinite(wanted) ? wanted : 0);
    alerts->placed = true;
    alerts->left = left;
    if (start) {
        if (!step->drift.inside) {
            tell_place(told, ALERT_RECENTRE, step, left);
        }
        alerts->aim = step->drift.inside ? PLACE_FINE : PLACE_WRONG;
        return;
    }
    if (!asked && !better) { /* nobody re-centres to gain nothing */
        tell(told, ALERT_KNOCKED, "by %.2f°, though nothing was due", alerts->moved_deg);
        return;
    }
    tell_place(told, good ? ALERT_CENTRED : ALERT_STILL_OFF, step, left);
    alerts->aim = good ? PLACE_FINE : PLACE_WRONG;
}

static void follow_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double left = alerts->left = frames_left(step);
    if (alerts->aim < PLACE_WRONG && left < 2) {
        tell_place(told, ALERT_RECENTRE, step, left);
        alerts->aim = PLACE_WRONG;
    } else if (alerts->aim < PLACE_ENDING && left <= alerts->wish.warn_frames) {
        tell_place(told, ALERT_NEAR_EDGE, step, left);
        alerts->aim = PLACE_ENDING;
    }
}

static void feed_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    if (step->compared && step->touched) {
        alerts->moved_deg = alerts->placed || alerts->moved_deg <= 0
                                ? step->moved_deg
                                : alerts->moved_deg + step->moved_deg;
        alerts->placed = false;
        return; /* the next frame tells whether it has come to rest */
    }
    if (!step->on_target) {
        if (!alerts->placed && alerts->moved_deg > 0) {
            tell(told, ALERT_KNOCKED, "by %.2f°", alerts->moved_deg);
            alerts->placed = true;
        }
        return;
    }
    if (!alerts->placed) {
        judge_aim(told, alerts, step);
    } else {
        follow_aim(told, alerts, step);
    }
}

/* Returns whether the frame shows the sky. */
static bool feed_kind(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    char words[160];
    bool none = frame->read && !frame->solved && frame->health.look.kind != KIND_LIGHT;
    enum turn turn = rule_feed(&alerts->no_sky, none, frame->read && !none, ON_SOON, 1);
    if (turn == BEGUN) {
        frame_look_words(words, sizeof words, &frame->health.look);
        tell(told, ALERT_NO_SKY, "%s", frame->why[0] ? frame->why : words);
    } else if (turn == OVER) {
        tell(told, ALERT_LIGHT, "stars show again");
    }
    return frame->read && !none;
}

static void feed_unsolved(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    bool explained = alerts->cloud.raised || alerts->cloud.bad || alerts->no_sky.bad;
    bool bad = !frame->solved && !explained;
    if (rule_feed(&alerts->unsolved, bad, frame->solved, ON_SURE, OFF_SOON) == BEGUN) {
        tell(told, ALERT_UNSOLVED, "%s", frame->why);
    }
}

int alerts_feed(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct night_frame *frame, const struct night_step *step)
{
    struct told told = {out, 0};
    alerts->silent = false;
    if (step->late) {
        return 0;
    }
    if (step->clock_jump_s != 0) {
        tell(&told, ALERT_CLOCK, "by %+.0f s against the sky", step->clock_jump_s);
    }
    if (!feed_kind(&told, alerts, frame)) {
        return told.count;
    }
    double passed_s = alerts->frames ? step->time_s - alerts->last_s : 0;
    alerts->last_s = step->time_s;
    alerts->frames++;
    bool alike = feed_settings(&told, alerts, frame);
    feed_focal(&told, alerts, frame);
    if (alike) {
        feed_light(&told, alerts, frame, passed_s > 0 ? passed_s : 0);
    }
    feed_unsolved(&told, alerts, frame);
    if (frame->solved) {
        feed_aim(&told, alerts, step);
    }
    return told.count;
}

int alerts_tick(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct alert_watch *watch)
{
    struct told told = {out, 0};
    if (watch->waited_s > watch->quiet_s && !alerts->silent) {
        tell(&told, ALERT_SILENCE, "for %.0f s: battery, card, cable, timer?", watch->waited_s);
        alerts->silent = true;
    }
    if (watch->free_frames >= 0 && watch->free_frames < low_frames && !alerts->disk_told) {
        tell(&told, ALERT_DISK, "room for %.0f more frames", floor(watch->free_frames));
        alerts->disk_told = true;
    }
    alerts->disk_told = alerts->disk_told && watch->free_frames < enough_frames;
    return told.count;
}
