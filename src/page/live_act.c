#include "page/live_act.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>

static void set(struct live_act *act, const char *text, bool now)
{
    *act = (struct live_act){.now = now, .frames = (double)NAN, .due_s = (double)NAN};
    snprintf(act->text, sizeof act->text, "%s", text);
}

bool live_act_of_alert(struct live_act *act, enum alert_kind kind)
{
    static const char *const texts[ALERT_KINDS] = {
        [ALERT_SKYLINE] = "End here, or another target",
        [ALERT_CLOUD] = "Wait for the cloud to pass",
        [ALERT_DEW] = "Dry the lens",
        [ALERT_FOCUS] = "Focus again on a star",
        [ALERT_TRAILS] = "Steady it, or expose shorter",
        [ALERT_SKY] = "Look for lamps, Moon or dawn",
        [ALERT_NO_SKY] = "Cap off, lamps out",
        [ALERT_UNSOLVED] = "Look at a frame: open sky?",
        [ALERT_EXPOSURE] = "Set exposure and ISO back",
        [ALERT_FOCAL] = "Turn the zoom ring back",
        [ALERT_CLOCK] = "Set the camera's clock",
        [ALERT_SILENCE] = "Look at the camera: no frames",
        [ALERT_DISK] = "Make room on the disk",
        [ALERT_CARD] = "Change the card",
        [ALERT_SLOW] = "Look at the cable: frames late",
    };
    if (!texts[kind]) {
        return false;
    }
    set(act, texts[kind], true);
    return true;
}

void live_act_of_standing(struct live_act *act, const struct watch_standing *standing,
                          double cadence_s)
{
    double left = floor(standing->left + 1e-6);
    char move[LIVE_ACT_SIZE];
    if (!standing->answer || aim_answer_is_refused(standing->answer)) {
        set(act, standing->frame->solved ? "Find the target" : "Last frame did not solve", false);
        return;
    }
    if (!standing->overdue && !isfinite(left)) {
        set(act, "Nothing to do for hours", false);
        return;
    }
    const struct advice *advice = &standing->answer->advice;
    advice_write_move(move, sizeof move, advice, advice_move(advice));
    move[0] = (char)toupper((unsigned char)move[0]);
    set(act, move, standing->overdue || left < 1);
    act->frames = act->now ? 0 : left;
    act->due_s = act->now ? 0 : cadence_s > 0 ? standing->left * cadence_s : (double)NAN;
}

void live_act_of_touch(struct live_act *act)
{
    set(act, "Hold still for one frame", false);
}

void live_act_at_start(struct live_act *act)
{
    set(act, "Wait for the first frame", false);
}
