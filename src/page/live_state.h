/* page/live_state.h: how the night stands, as the page shows it: fed by the watch, written as JSON.
 */
#ifndef ALIDADE_PAGE_LIVE_STATE_H
#define ALIDADE_PAGE_LIVE_STATE_H

#include "jobs/watch_session.h"
#include "night/night_list.h"
#include "page/live_act.h"
#include "page/live_move.h"

#include <stdbool.h>

/* The stack as it was shown last; all zeros: there is none. */
struct live_glimpse {
    char text[2 * EMERGENCE_TEXT], frames[2 * EMERGENCE_TEXT];
    int width, height; /* px of its picture */
    double outline[ELLIPSE_RIM_MOST][2];
    int corners;
};

enum { LIVE_ALERTS = 8, LIVE_NEWS_FRAMES = 5 };

struct live_alert {
    long id;
    int frame; /* number of the frame that it came with, counted from 1 */
    struct alert alert;
};

/* Starts as all zeros with act set by live_act_at_start; free with live_state_free. For one thread
 * at a time. live_state_want and live_state_write may be called by others than the watch's. */
struct live_state {
    /* Borrowed; NULL before it began. Only the watch's own thread may look into it, so that what
     * the page shows of it is kept here. */
    const struct watch_session *session;
    char target[80];
    double margin_percent;
    struct night_list frames; /* of the night, without their names */
    struct live_act act;      /* the re-centring */
    double act_s;             /* when it was made, on stopwatch_s */
    struct live_alert alert[LIVE_ALERTS];
    int alerts; /* newest first */
    long last_id;
    struct live_move asked;
    int since_move; /* solved frames that stood still */
    char moved[LIVE_MOVE_SIZE];
    int moved_frame;
    struct aim_answer *answer; /* of the latest solved frame; owned; NULL: none yet */
    int answer_frame;
    char name[120], clock[16]; /* of the latest frame */
    double came_s;             /* when that came, on stopwatch_s */
    struct live_glimpse glimpse;
    char trouble[400];
    double cadence_s, time_s; /* of the latest frame's step */
    bool touched;
    double wanted_s; /* of light; 0: nobody said */
    struct watch_change wanted;
    bool is_wanted; /* it is for the next frame */
};

void live_state_free(struct live_state *state);

/* The watch began; takes in what the log holds. ERROR_MEMORY. */
int live_state_begin(struct live_state *state, const struct watch_session *session,
                     struct error *err);
/* A frame, then its alerts, then how things stand. ERROR_MEMORY. */
int live_state_frame(struct live_state *state, const struct night_frame *frame,
                     const struct night_step *step, struct error *err);
void live_state_alert(struct live_state *state, const struct alert *alert);
void live_state_stand(struct live_state *state, const struct watch_standing *standing);
/* Leaves out what is over; after each of these. */
void live_state_settle(struct live_state *state);
void live_state_trouble(struct live_state *state, const struct error *err);

/* What is wanted from the next frame on; and whether something is, which is then taken for given.
 */
void live_state_want(struct live_state *state, const struct watch_change *wanted);
bool live_state_change(struct live_state *state, struct watch_change *change);

/* The object of live_schema, in *json, which must be empty. ERROR_MEMORY. */
int live_state_write(struct json *json, const struct live_state *state, struct error *err);

#endif
