/* page/live.h: the page of a night that is watched: what to do next, on a telephone in the hand.
 *
 * It listens to the watch, and answers pages on threads of its own: no page, however slow, delays a
 * frame. */
#ifndef ALIDADE_PAGE_LIVE_H
#define ALIDADE_PAGE_LIVE_H

#include "jobs/job_engine.h"
#include "jobs/job_watch.h"
#include "sky/time.h"

#include <stdio.h>

/* All borrowed for as long as the page is open. */
struct live_wish {
    const char *address; /* as live_address_read has it */
    /* With its objects, if targets are to be called by their names. Nobody else may use it: the
     * watch has its own. */
    struct job_engine *engine;
    const struct job_watch_wish *watch;
    double own_offset_min; /* as in struct plan_evening */
};

struct live;

/* ERROR_USAGE for an address that cannot be; ERROR_INPUT, ERROR_MEMORY. Inverse: live_close, which
 * accepts NULL. */
int live_open(struct live **live, const struct live_wish *wish, struct error *err);
void live_close(struct live *live);

/* The address, "http://192.168.1.20:8470/k7f2-m9qd-x3ab/"; borrowed. */
const char *live_url(const struct live *live);
/* Whether others than this computer can reach it. */
bool live_is_shared(const struct live *live);

/* What the watch is to call, each with the live page for its context. */
void live_began(struct live *live, const struct watch_session *session);
void live_frame(struct live *live, const struct night_frame *frame, const struct night_step *step);
void live_alert(struct live *live, const struct alert *alert, const struct night_frame *frame);
void live_standing(struct live *live, const struct watch_standing *standing);
/* The stack has grown; makes a picture of it, not more often than every few seconds. */
void live_glimpse(struct live *live, const struct night_stack *stack);
void live_trouble(struct live *live, const struct error *err);
bool live_change(struct live *live, struct watch_change *change);

#endif
