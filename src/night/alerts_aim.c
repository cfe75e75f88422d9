#include "night/alerts_parts.h"

#include <math.h>

static const double good_share = 0.75;   /* of the longest batch possible */
static const double gained_share = 0.25; /* of it, by a move that was meant */
static const double last_frames = 2;     /* with fewer left there is no time for a warning */

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
        alerts_tell(told, kind, "the target is not wholly in the safe area of the frame");
    } else if (isfinite(left)) {
        alerts_tell(told, kind, "the target leaves the safe area at the %s in %.0f frame%s", edge,
                    floor(left), left >= 2 || left < 1 ? "s" : "");
    } else {
        alerts_tell(told, kind, "the target stays in the safe area for hours");
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
        alerts_tell(told, ALERT_KNOCKED, "by %.2f°, although no re-centring was due",
                    alerts->moved_deg);
        return;
    }
    tell_place(told, good ? ALERT_CENTRED : ALERT_STILL_OFF, step, left);
    alerts->aim = good ? PLACE_FINE : PLACE_WRONG;
}

static void follow_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
{
    double left = alerts->left = frames_left(step);
    if (alerts->aim < PLACE_WRONG && left < last_frames) {
        tell_place(told, ALERT_RECENTRE, step, left);
        alerts->aim = PLACE_WRONG;
    } else if (alerts->aim < PLACE_ENDING && left <= alerts->wish.warn_frames) {
        tell_place(told, ALERT_NEAR_EDGE, step, left);
        alerts->aim = PLACE_ENDING;
    }
}

void alerts_feed_aim(struct told *told, struct alerts *alerts, const struct night_step *step)
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
            alerts_tell(told, ALERT_KNOCKED, "by %.2f°", alerts->moved_deg);
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
