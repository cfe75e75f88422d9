#include "page/live_state.h"

#include "base/path.h"
#include "base/stopwatch.h"
#include "base/utf8.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void live_state_free(struct live_state *state)
{
    night_list_free(&state->frames);
    free(state->answer);
    memset(state, 0, sizeof *state);
}

/* Keeps what a frame is judged by. */
static int keep(struct live_state *state, const struct night_frame *frame, struct error *err)
{
    struct night_frame copy = {0};
    int code = night_frame_copy(&copy, frame, "", err);
    return code ? code : night_list_add(&state->frames, &copy, err);
}

static void note_session(struct live_state *state)
{
    const struct watch_session *session = state->session;
    snprintf(state->target, sizeof state->target, "%s", session->context.target.name);
    state->margin_percent = session->aim.margin_percent;
}

int live_state_begin(struct live_state *state, const struct watch_session *session,
                     struct error *err)
{
    int code = 0;
    state->session = session;
    note_session(state);
    state->wanted = (struct watch_change){session->context.target, session->aim.batch};
    for (int i = 0; !code && i < session->before.count; i++) {
        code = keep(state, &session->before.frame[i], err);
    }
    return code;
}

static void note_last(struct live_state *state, const struct night_frame *frame)
{
    char start[40];
    time_stamp_write(start, sizeof start,
                     frame->start_local.known ? &frame->start_local : &frame->start_utc);
    const char *clock = strchr(start, 'T');
    utf8_shown(state->name, sizeof state->name, path_base(frame->name));
    snprintf(state->clock, sizeof state->clock, "%.8s", clock ? clock + 1 : "");
}

/* After two frames that stand still the move is over, and the next one is another. */
static void note_move(struct live_state *state, const struct night_frame *frame,
                      const struct night_step *step)
{
    struct live_moved moved;
    struct wcs wcs;
    if (!frame->solved || !step->compared) {
        return;
    }
    state->since_move = step->touched ? 0 : state->since_move + 1;
    if (step->touched && night_frame_wcs(&wcs, frame) &&
        live_move_measure(&moved, &state->asked, &wcs, step->time_s)) {
        live_move_write(state->moved, sizeof state->moved, &state->asked, &moved);
        state->moved_frame = state->frames.count;
    }
}

int live_state_frame(struct live_state *state, const struct night_frame *frame,
                     const struct night_step *step, struct error *err)
{
    int code = keep(state, frame, err);
    state->trouble[0] = '\0';
    state->cadence_s = step->cadence_s;
    state->time_s = step->time_s;
    state->touched = step->touched;
    state->came_s = stopwatch_s();
    note_session(state);
    note_last(state, frame);
    note_move(state, frame, step);
    return code;
}

static void remove_alert(struct live_state *state, int at)
{
    state->alerts--;
    memmove(&state->alert[at], &state->alert[at + 1],
            (size_t)(state->alerts - at) * sizeof *state->alert);
}

void live_state_alert(struct live_state *state, const struct alert *alert)
{
    for (int i = state->alerts - 1; i >= 0; i--) {
        if (state->alert[i].alert.kind == alert->kind || i == LIVE_ALERTS - 1) {
            remove_alert(state, i);
        }
    }
    memmove(&state->alert[1], &state->alert[0], (size_t)state->alerts * sizeof *state->alert);
    state->alert[0] = (struct live_alert){++state->last_id, state->frames.count, *alert};
    state->alerts++;
}

static bool is_news(enum alert_kind kind)
{
    return kind == ALERT_CENTRED || !alert_is_loud(kind);
}

/* What is over needs nobody any more. */
void live_state_settle(struct live_state *state)
{
    for (int i = state->alerts - 1; i >= 0; i--) {
        const struct live_alert *each = &state->alert[i];
        bool old = state->frames.count - each->frame >= LIVE_NEWS_FRAMES;
        if (is_news(each->alert.kind) ? old
                                      : !alerts_hold(&state->session->alerts, each->alert.kind)) {
            remove_alert(state, i);
        }
    }
}

/* The cue points into the stars of its own answer. */
static void keep_answer(struct live_state *state, const struct aim_answer *answer)
{
    struct aim_answer *own = state->answer ? state->answer : malloc(sizeof *own);
    if (!own) {
        return;
    }
    *own = *answer;
    if (answer->has_cue) {
        own->cue.star = own->star + (answer->cue.star - answer->star);
        own->cue.mark = answer->cue.mark ? own->star + (answer->cue.mark - answer->star) : NULL;
    }
    state->answer = own;
    state->answer_frame = state->frames.count;
}

void live_state_stand(struct live_state *state, const struct watch_standing *standing)
{
    const int still = 2;
    if (state->touched) {
        live_act_of_touch(&state->act);
    } else {
        live_act_of_standing(&state->act, standing, state->cadence_s);
    }
    state->act_s = stopwatch_s();
    if (!standing->answer || aim_answer_is_refused(standing->answer)) {
        return;
    }
    keep_answer(state, standing->answer);
    if (!state->touched && (!state->asked.known || state->since_move >= still)) {
        live_move_ask(&state->asked, standing->answer, state->time_s);
    }
}

void live_state_trouble(struct live_state *state, const struct error *err)
{
    utf8_shown(state->trouble, sizeof state->trouble, err->text);
}

void live_state_want(struct live_state *state, const struct watch_change *wanted)
{
    state->wanted = *wanted;
    state->is_wanted = true;
}

bool live_state_change(struct live_state *state, struct watch_change *change)
{
    bool is_wanted = state->is_wanted;
    if (is_wanted) {
        *change = state->wanted;
        state->asked = (struct live_move){0};
        state->moved[0] = '\0';
    }
    state->is_wanted = false;
    return is_wanted;
}
