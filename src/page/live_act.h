/* page/live_act.h: the one thing to do next, in words that are read at arm's length in the dark. */
#ifndef ALIDADE_PAGE_LIVE_ACT_H
#define ALIDADE_PAGE_LIVE_ACT_H

#include "jobs/watch_session.h"
#include "night/alerts.h"

#include <stdbool.h>

enum { LIVE_ACT_SIZE = 80, LIVE_ACT_WORDS = 6 };

struct live_act {
    char text[LIVE_ACT_SIZE]; /* at most LIVE_ACT_WORDS words; UTF-8 */
    bool now;                 /* it is due */
    double frames, due_s;     /* until it is due; NAN: unknown, or there is nothing to wait for */
};

/* What an alert asks for, now. False if it asks for nothing, or for a move, which is the
 * standing's.
 */
bool live_act_of_alert(struct live_act *act, enum alert_kind kind);

/* The re-centring that comes next. cadence_s: 0 if it is unknown. */
void live_act_of_standing(struct live_act *act, const struct watch_standing *standing,
                          double cadence_s);

/* The camera was turned before this frame: the next one tells whether it has come to rest. */
void live_act_of_touch(struct live_act *act);

/* Before the first frame. */
void live_act_at_start(struct live_act *act);

#endif
