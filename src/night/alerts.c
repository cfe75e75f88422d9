#include "base/text.h"
#include "night/alerts_parts.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

static const double focal_change = 0.004, settings_change = 0.02;
static const double low_frames = 200, enough_frames = 300, less_share = 0.5;
/* Frames that come later than this much, and are in time again below that. */
static const double late_cadences = 4, least_late_s = 30, in_time_share = 0.4;
static const double slow_reading = 0.5; /* of the cadence */
enum { again_frames = 25, card_again_frames = 5 };

static const struct {
    const char *title, *key;
    bool loud, wants_move;
} kinds[] = {
    [ALERT_NEAR_EDGE] = {"RE-CENTRE SOON", "near-edge", true, true},
    [ALERT_RECENTRE] = {"RE-CENTRE NOW", "recentre", true, true},
    [ALERT_CENTRED] = {"ON TARGET", "centred", true, false},
    [ALERT_STILL_OFF] = {"STILL OFF", "still-off", true, true},
    [ALERT_KNOCKED] = {"THE TRIPOD MOVED", "knocked", true, true},
    [ALERT_SKYLINE] = {"BEHIND THE SKYLINE", "skyline", true, false},
    [ALERT_CLOUD] = {"CLOUD", "cloud", true, false},
    [ALERT_DEW] = {"DEW ON THE LENS", "dew", true, false},
    [ALERT_FOCUS] = {"FOCUS IS DRIFTING", "focus", true, false},
    [ALERT_TRAILS] = {"STARS ARE TRAILING", "trails", true, false},
    [ALERT_SKY] = {"THE SKY IS BRIGHTENING", "bright-sky", true, false},
    [ALERT_NO_SKY] = {"NO SKY IN THE FRAMES", "no-sky", true, false},
    [ALERT_UNSOLVED] = {"FRAMES ARE NOT SOLVING", "unsolved", true, false},
    [ALERT_EXPOSURE] = {"SETTINGS CHANGED", "settings", true, false},
    [ALERT_FOCAL] = {"FOCAL LENGTH CHANGED", "focal", true, false},
    [ALERT_CLOCK] = {"CHECK THE CAMERA'S CLOCK", "clock", true, false},
    [ALERT_SILENCE] = {"NO NEW FRAMES", "silence", true, false},
    [ALERT_DISK] = {"DISK NEARLY FULL", "disk", true, false},
    [ALERT_CARD] = {"THE CARD HAS READ ERRORS", "read-errors", true, false},
    [ALERT_SLOW] = {"FRAMES COME LATE", "late", true, false},
    [ALERT_CLEAR] = {"clear again", "clear", false, false},
    [ALERT_SHARP] = {"sharp again", "sharp", false, false},
    [ALERT_STEADY] = {"steady again", "steady", false, false},
    [ALERT_LIGHT] = {"the sky is back", "light", false, false},
    [ALERT_PROMPT] = {"in time again", "in-time", false, false},
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

void alerts_tell(struct told *told, enum alert_kind kind, const char *format, ...)
{
    if (told->count == ALERTS_MOST) {
        return;
    }
    struct alert *alert = &told->out[told->count++];
    va_list arguments;
    va_start(arguments, format);
    *alert = (struct alert){.kind = kind};
    vsnprintf(alert->text, sizeof alert->text, format, arguments);
    va_end(arguments);
}

void alerts_tell_again(struct told *told, enum alert_kind kind, const struct alert_rule *rule,
                       const char *format, ...)
{
    if (told->count == ALERTS_MOST) {
        return;
    }
    struct alert *alert = &told->out[told->count++];
    va_list arguments;
    va_start(arguments, format);
    *alert = (struct alert){.kind = kind, .again = rule->again};
    vsnprintf(alert->text, sizeof alert->text, format, arguments);
    va_end(arguments);
}

/* first, then three times as much each. */
static double due_again(double first, int again)
{
    const double step = 3;
    return first * pow(step, again);
}

bool alerts_again_after(struct alert_rule *rule, int first)
{
    if (++rule->frames < due_again(first, rule->again)) {
        return false;
    }
    rule->again++;
    return true;
}

bool alerts_again(struct alert_rule *rule)
{
    return alerts_again_after(rule, again_frames);
}

enum turn alerts_rule(struct alert_rule *rule, bool bad, bool good, int on, int off)
{
    rule->bad = bad ? rule->bad + 1 : 0;
    rule->good = good ? rule->good + 1 : 0;
    if (!rule->raised && rule->bad >= on) {
        rule->raised = true;
        rule->frames = rule->again = 0;
        return BEGUN;
    }
    if (rule->raised && rule->good >= off) {
        rule->raised = false;
        return OVER;
    }
    return SAME;
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
    if (differs(to, from)) {
        text_append(out, size, "%s%s%.4g%s, was %.4g%s", out[0] ? "; " : "", label, to, unit, from,
                    unit);
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
    alerts_tell(told, ALERT_EXPOSURE, "set it back, unless you meant it: %s", text);
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
    if (alerts_rule(&alerts->exposure, changed, !changed, ON_SOON, 1) == BEGUN) {
        tell_settings(told, &alerts->settings, &now);
        alerts->settings = now;
        alerts->exposure = (struct alert_rule){0};
        alerts_forget_light(alerts);
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
    if (alerts_rule(&alerts->focal, changed, !changed, ON_SOON, 1) == BEGUN) {
        alerts_tell(told, ALERT_FOCAL,
                    "turn the ring back and tape it: by the stars it is now %.1f %% %s",
                    100 * fabs(ratio - 1), ratio > 1 ? "longer" : "shorter");
        alerts->scale_arcsec = frame->scale_arcsec;
        alerts->focal = (struct alert_rule){0};
        alerts_forget_light(alerts);
    }
}

/* Returns whether the frame shows the sky. */
static bool feed_kind(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    char words[160];
    bool none = frame->read && !frame->solved && frame->health.look.kind != KIND_LIGHT;
    enum turn turn = alerts_rule(&alerts->no_sky, none, frame->read && !none, ON_SOON, 1);
    if (turn == BEGUN) {
        frame_look_words(words, sizeof words, &frame->health.look);
        alerts_tell(told, ALERT_NO_SKY, "check the cap and lamps: %s",
                    night_frame_why(frame)[0] ? frame->why : words);
    } else if (turn == SAME && alerts->no_sky.raised && none && alerts_again(&alerts->no_sky)) {
        alerts_tell_again(told, ALERT_NO_SKY, &alerts->no_sky,
                          "check the cap and lamps: %d frames since without the sky",
                          alerts->no_sky.frames);
    } else if (turn == OVER) {
        alerts_tell(told, ALERT_LIGHT, "stars show again");
    }
    return frame->read && !none;
}

static void feed_unsolved(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    bool explained = alerts->cloud.raised || alerts->cloud.bad || alerts->no_sky.bad;
    bool bad = !frame->solved && !explained;
    enum turn turn = alerts_rule(&alerts->unsolved, bad, frame->solved, ON_SURE, OFF_SOON);
    if (turn == BEGUN) {
        alerts_tell(told, ALERT_UNSOLVED, "check a frame for open sky and focus: %.200s",
                    night_frame_why(frame));
    } else if (alerts->unsolved.raised && bad && alerts_again(&alerts->unsolved)) {
        alerts_tell_again(told, ALERT_UNSOLVED, &alerts->unsolved,
                          "check a frame for open sky and focus: nothing has fitted for %d frames",
                          alerts->unsolved.frames);
    }
}

/* One is enough, since it was tried several times; a frame that was read at a later try counts as
 * well. */
static void feed_card(struct told *told, struct alerts *alerts, const struct night_frame *frame)
{
    bool bad = frame->read_errors > 0;
    if (alerts_rule(&alerts->card, bad, !bad && frame->read, 1, OFF_SURE) == BEGUN) {
        alerts_tell(
            told, ALERT_CARD,
            frame->read
                ? "change the card now and copy the old one: a frame could only be read at a later "
                  "try"
                : "change the card now and copy the old one: a frame cannot be read");
    } else if (bad && alerts_again_after(&alerts->card, card_again_frames)) {
        alerts_tell_again(told, ALERT_CARD, &alerts->card,
                          "change the card now: %d frames since had read errors, and it loses "
                          "more with each",
                          alerts->card.frames);
    }
}

/* What is at fault, and so what to do. */
static void tell_late(struct told *told, const struct alerts *alerts, const struct night_step *step)
{
    char late[40], cure[120] = "check cable, card reader and network";
    double waiting = step->cadence_s > 0 ? floor(step->late_s / step->cadence_s) : 0;
    if (step->reading_s > slow_reading * step->cadence_s) {
        snprintf(cure, sizeof cure, "use a faster card or disk: reading a frame takes %.1f s",
                 step->reading_s);
    }
    snprintf(late, sizeof late, step->late_s < 90 ? "%.0f s" : "%.0f min",
             step->late_s < 90 ? step->late_s : step->late_s / 60);
    if (alerts->slow.again) {
        alerts_tell_again(told, ALERT_SLOW, &alerts->slow,
                          "%s; each alert comes %s late by now, %.0f frames after what it is about",
                          cure, late, waiting);
    } else {
        alerts_tell(told, ALERT_SLOW, "%s; frames come %s late, and so do alerts", cure, late);
    }
}

static void feed_late(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double most_s = fmax(least_late_s, late_cadences * step->cadence_s);
    bool late = step->late_s > most_s;
    switch (alerts_rule(&alerts->slow, late, step->late_s < in_time_share * most_s, 1, OFF_SOON)) {
    case BEGUN:
        tell_late(told, alerts, step);
        break;
    case OVER:
        alerts_tell(told, ALERT_PROMPT, "frames come as they are taken");
        break;
    case SAME:
        if (alerts->slow.raised && alerts->slow.good == 0 && alerts_again(&alerts->slow)) {
            tell_late(told, alerts, step);
        }
        break;
    }
}

/* A doubt is told once: all frames of a night share the clock. */
static void feed_clock(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    char text[ALERT_TEXT_SIZE];
    if (step->clock_jump_s != 0) {
        char whole[32];
        clock_doubt_write_whole(whole, sizeof whole, step->clock_jump_s);
        alerts_tell(told, ALERT_CLOCK,
                    "set the camera's clock: it jumped by %+.0f s%s against the sky",
                    step->clock_jump_s, whole);
    }
    clock_doubt_write(text, sizeof text, &step->clock_doubt);
    if (text[0] && !alerts->clock_told) {
        alerts_tell(told, ALERT_CLOCK, "%s", text);
        alerts->clock_told = true;
    }
}

int alerts_feed(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct night_frame *frame, const struct night_step *step)
{
    struct told told = {out, 0};
    alerts->silence = (struct alert_rule){0};
    feed_card(&told, alerts, frame);
    if (step->late) {
        return told.count;
    }
    feed_clock(&told, alerts, step);
    feed_late(&told, alerts, step);
    if (!feed_kind(&told, alerts, frame)) {
        return told.count;
    }
    double passed_s = alerts->frames ? step->time_s - alerts->last_s : 0;
    alerts->last_s = step->time_s;
    if (!alerts->frames) {
        alerts->begun_s = alerts->touched_s = (double)NAN;
    }
    alerts->frames++;
    bool alike = feed_settings(&told, alerts, frame);
    feed_focal(&told, alerts, frame);
    if (alike) {
        alerts_feed_light(&told, alerts, frame, passed_s > 0 ? passed_s : 0);
    }
    feed_unsolved(&told, alerts, frame);
    if (frame->solved) {
        alerts_feed_aim(&told, alerts, step);
    }
    return told.count;
}

/* The rules that raise an alert and take it back; NULL: none. */
static const struct alert_rule *rule_of(const struct alerts *alerts, enum alert_kind kind)
{
    const struct alert_rule *const rules[ALERT_KINDS] = {
        [ALERT_CLOUD] = &alerts->cloud,     [ALERT_DEW] = &alerts->dew,
        [ALERT_FOCUS] = &alerts->focus,     [ALERT_TRAILS] = &alerts->trails,
        [ALERT_NO_SKY] = &alerts->no_sky,   [ALERT_UNSOLVED] = &alerts->unsolved,
        [ALERT_SILENCE] = &alerts->silence, [ALERT_CARD] = &alerts->card,
        [ALERT_DISK] = &alerts->disk,       [ALERT_SLOW] = &alerts->slow,
    };
    return rules[kind];
}

bool alerts_hold(const struct alerts *alerts, enum alert_kind kind)
{
    const struct alert_rule *rule = rule_of(alerts, kind);
    switch (kind) {
    case ALERT_NEAR_EDGE:
        return alerts->aim == PLACE_ENDING;
    case ALERT_RECENTRE:
    case ALERT_STILL_OFF:
        return alerts->aim == PLACE_WRONG;
    case ALERT_SKYLINE:
        return alerts->view != VIEW_CLEAR;
    case ALERT_TRAILS:
        return rule->raised || alerts->motion.raised;
    case ALERT_DISK:
        return rule->raised || rule->again > 0;
    default:
        return !rule || rule->raised;
    }
}

static bool lasts(const struct alert_rule *rule)
{
    return rule->raised && rule->good == 0;
}

const char *alerts_lasting(const struct alerts *alerts)
{
    return lasts(&alerts->cloud)   ? alert_key(ALERT_CLOUD)
           : lasts(&alerts->dew)   ? alert_key(ALERT_DEW)
           : lasts(&alerts->focus) ? alert_key(ALERT_FOCUS)
                                   : NULL;
}

static void tick_silence(struct told *told, struct alerts *alerts, const struct alert_watch *watch)
{
    char missed[40] = "";
    if (watch->waited_s <= due_again(watch->quiet_s, alerts->silence.again)) {
        return;
    }
    if (!alerts->silence.raised) {
        alerts_tell(told, ALERT_SILENCE, "check battery, card, cable and timer: none for %.0f s",
                    watch->waited_s);
    } else {
        if (watch->cadence_s > 0) {
            snprintf(missed, sizeof missed, ", %.0f frames missed",
                     floor(watch->waited_s / watch->cadence_s));
        }
        alerts_tell_again(told, ALERT_SILENCE, &alerts->silence,
                          "check battery, card, cable and timer: none for %.0f min%s",
                          watch->waited_s / 60, missed);
    }
    alerts->silence.again += 1;
    alerts->silence.raised = true;
}

/* Each time half of the room is gone. */
static void tick_disk(struct told *told, struct alerts *alerts, const struct alert_watch *watch)
{
    double room = watch->free_frames;
    if (room < 0 || room >= enough_frames) {
        alerts->disk = (struct alert_rule){0};
        return;
    }
    if (room >= low_frames * pow(less_share, alerts->disk.again) && room >= 1) {
        return;
    }
    if (room >= 1) {
        alerts_tell_again(told, ALERT_DISK, &alerts->disk,
                          "move some away, or end earlier: there is room for %.0f more frames",
                          floor(room));
    } else if (!alerts->disk.raised) {
        alerts->disk.raised = true;
        alerts_tell_again(
            told, ALERT_DISK, &alerts->disk,
            "move some away: there is no room for another frame, what comes now is lost");
    } else {
        return;
    }
    while (room >= 1 && room < low_frames * pow(less_share, alerts->disk.again)) {
        alerts->disk.again++;
    }
}

int alerts_tick(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct alert_watch *watch)
{
    struct told told = {out, 0};
    tick_silence(&told, alerts, watch);
    tick_disk(&told, alerts, watch);
    return told.count;
}
