#include "jobs/watch_session.h"

#include "base/path.h"
#include "base/stopwatch.h"
#include "base/text.h"
#include "sky/rates.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

void session_complain(const struct watch_session *session, const struct error *err)
{
    if (session->listener->trouble) {
        session->listener->trouble(session->listener->context, err);
    }
}

static int open_log(struct watch_session *session, struct error *err)
{
    const char *wished = session->wish->log;
    char *usual = path_join(session->path, NIGHT_LOG_NAME);
    if (!usual) {
        return error_memory(err);
    }
    struct error why = {0};
    int code = night_log_open(&session->log, &session->before, wished ? wished : usual, &why);
    free(usual);
    if (!code) {
        return 0;
    }
    error_set(err, code, "%s", why.text);
    return error_remedied(err, code, code == ERROR_OUTPUT && !wished ? REMEDY_LOG : REMEDY_NONE);
}

/* The log tells what the night was like until now; nothing of it is said again. */
static int replay(struct watch_session *session, struct error *err)
{
    struct alert unsaid[ALERTS_MOST];
    struct night_step step;
    for (int i = 0; i < session->before.count; i++) {
        const struct night_frame *frame = &session->before.frame[i];
        watch_advice_step(&step, &session->advice, frame);
        alerts_feed(unsaid, &session->alerts, frame, &step);
    }
    return night_known_index(&session->known, &session->before, err);
}

int session_open(struct watch_session *session, const struct watch_task *task,
                 const struct watch_listener *listener, const char *path, struct error *err)
{
    session->wish = task->wish;
    session->aim = *task->context->wish;
    session->context = *task->context;
    session->context.wish = &session->aim;
    session->solve = task->solve;
    session->engine = task->engine;
    session->listener = listener;
    session->path = path;
    session->began_s = stopwatch_s();
    if (stack_wish_given(&task->wish->stack)) {
        night_stack_open(&session->stack, &task->wish->stack, task->engine, &task->context->target);
    }
    session->advice.context = &session->context;
    session->alerts.wish =
        (struct alert_wish){task->wish->warn, session->aim.batch, session->aim.centre};
    int code = open_log(session, err);
    return code ? code : replay(session, err);
}

void session_close(struct watch_session *session)
{
    night_log_close(&session->log);
    night_known_free(&session->known);
    night_seen_free(&session->seen);
    night_stack_free(&session->stack);
    night_list_free(&session->before);
    memset(session, 0, sizeof *session);
}

bool session_knows(const struct watch_session *session, const char *path,
                   const struct night_file *file)
{
    const struct night_frame *known = night_known_find(&session->known, path, file);
    return night_seen_holds(&session->seen, file) || (known && night_frame_is_settled(known));
}

bool session_knows_unread(const struct watch_session *session, const char *path,
                          const struct night_file *file, enum error_cause cause)
{
    const struct night_frame *known = night_known_find(&session->known, path, file);
    return known && !known->read && known->unread == cause;
}

static void note_seen(struct watch_session *session, const struct night_frame *frame)
{
    const struct night_file file = {.bytes = frame->bytes, .digest = frame->digest};
    struct error err = {0};
    if (night_frame_is_settled(frame) && night_seen_add(&session->seen, &file, &err)) {
        session_complain(session, &err);
    }
}

/* frame and solved may be NULL. */
static void say(struct watch_session *session, const struct alert *alert, int count,
                const struct night_frame *frame, const struct solved_frame *solved,
                double cadence_s)
{
    struct aim_answer *answer = NULL;
    for (int i = 0; i < count; i++) {
        bool wants = solved && solved->solution.solved && alert_wants_move(alert[i].kind);
        if (wants && !answer && (answer = calloc(1, sizeof *answer)) != NULL) {
            watch_advice_give(answer, &session->advice, solved, cadence_s);
        }
        if (session->listener->alert) {
            session->listener->alert(session->listener->context, &alert[i], frame,
                                     wants ? answer : NULL);
        }
        session->told += alert_is_loud(alert[i].kind);
    }
    free(answer);
}

/* The move as it will be due when the batch is over. */
static void find_next_move(struct aim_answer *answer, const struct watch_session *session,
                           const struct solved_frame *solved, double left, double cadence_s)
{
    struct aim_wish wish = session->aim;
    struct aim_context later = session->context;
    const struct watch_advice advice = {.context = &later};
    wish.settle_s += isfinite(left) && left > 0 ? left * cadence_s : 0;
    later.wish = &wish;
    watch_advice_give(answer, &advice, solved, cadence_s);
}

static void tell_standing(struct watch_session *session, const struct night_frame *frame,
                          const struct solved_frame *solved, const struct night_step *step)
{
    struct watch_standing standing = {.frame = frame,
                                      .lasting = alerts_lasting(&session->alerts),
                                      .on_target = step->on_target,
                                      .overdue = session->alerts.aim == PLACE_WRONG,
                                      .left = step->left,
                                      .visible = alerts_frames_visible(step)};
    struct aim_answer *answer = NULL;
    if (!session->listener->standing) {
        return;
    }
    if (solved && solved->solution.solved && step->on_target &&
        (answer = calloc(1, sizeof *answer)) != NULL) {
        /* What is overdue is to be done now, however long the batch would last that has begun. */
        find_next_move(answer, session, solved, standing.overdue ? 0 : standing.left,
                       step->cadence_s);
        standing.answer = answer;
    }
    session->listener->standing(session->listener->context, &standing);
    free(answer);
}

int session_renew_index(struct watch_session *session, const struct job_control *control,
                        struct error *err)
{
    const struct timespec breath = {.tv_nsec = 250000000};
    const int most_tries = 120;
    struct job_engine *engine = session->engine;
    struct error why = {0}, told = {0};
    int code = ERROR_INPUT;
    const char *stale = job_engine_stale(engine);
    error_set(&told, 0, "%s: the index was written to; it is opened anew",
              stale ? stale : engine->indexes.part[0].name);
    for (int i = 0; code && i < most_tries && !job_is_cancelled(control); i++) {
        nanosleep(&breath, NULL);
        why = (struct error){0};
        code = job_engine_renew(engine, &why);
    }
    if (!code) {
        session_complain(session, &told);
    }
    return code && !job_is_cancelled(control) ? error_set(err, code, "%s", why.text) : 0;
}

static void tell_log(struct watch_session *session, int code, const struct error *err)
{
    if (code && !session->log_failing) {
        const struct error kept = {.code = code,
                                   .text = "frames are still followed, and their lines kept until "
                                           "it can be written"};
        session_complain(session, err);
        session_complain(session, &kept);
    }
    session->log_failing = code != 0;
}

static bool is_same_target(const struct aim_target *a, const struct aim_target *b)
{
    return strcmp(a->name, b->name) == 0 && a->shape.ra_deg == b->shape.ra_deg &&
           a->shape.dec_deg == b->shape.dec_deg;
}

/* What the plan of the night says is about its own target. */
static void heed_change(struct watch_session *session)
{
    const struct watch_listener *listener = session->listener;
    struct watch_change change = {session->context.target, session->aim.batch};
    if (!listener->change || !listener->change(listener->context, &change)) {
        return;
    }
    if (!is_same_target(&change.target, &session->context.target)) {
        session->context.plan = NULL;
        alerts_forget_aim(&session->alerts);
    }
    session->context.target = change.target;
    session->aim.batch = change.batch;
    session->alerts.wish.batch = change.batch;
    session->advice.has_batch = false;
}

/* A stack that cannot go on, or be written, is told of once. */
static void tell_stack(struct watch_session *session, int code, const struct error *err)
{
    if (code && !session->stack_failing) {
        session_complain(session, err);
    }
    session->stack_failing = code != 0;
}

static bool is_another(const struct aim_target *before, const struct aim_target *now)
{
    return strcmp(before->name, now->name) != 0 || before->shape.ra_deg != now->shape.ra_deg ||
           before->shape.dec_deg != now->shape.dec_deg;
}

static void pass_news(struct watch_session *session)
{
    struct night_stack *stack = &session->stack;
    if (stack->news && session->listener->stack) {
        session->listener->stack(session->listener->context, stack);
    }
    stack->news = false;
}

/* The frame is told by then, so that the stack does not delay what is to be done. */
static void lay(struct watch_session *session, const struct night_frame *frame,
                struct solved_frame *solved)
{
    struct error err = {0};
    struct night_stack *stack = &session->stack;
    if (stack->wish && is_another(&stack->target, &session->context.target)) {
        night_stack_free(stack);
        night_stack_open(stack, &session->wish->stack, session->engine, &session->context.target);
    }
    stack->emergence.planned = session->context.plan ? session->context.plan->snr_once : 0;
    stack->emergence.cadence_s = session->advice.cadence_s;
    tell_stack(session, night_stack_take(stack, frame, solved, &err), &err);
    pass_news(session);
}

/* A computer that slept counts less time than went by, so that files are of later than now. */
static bool has_slept(const struct night_frame *frame, double now_s)
{
    const double unix_epoch_s = UNIX_EPOCH_JD * 86400, slack_s = 120;
    return frame->modified_ns > 0 &&
           (double)frame->modified_ns * 1e-9 + unix_epoch_s > now_s + slack_s;
}

/* What it says that the frame comes now: how late, and what that makes of the camera's clock. */
static void note_arrival(struct night_step *step, struct watch_session *session,
                         const struct night_frame *frame, const struct solved_frame *solved)
{
    const struct utc began = session->aim.occasion.today;
    double lag_s, now_s = stopwatch_s();
    if (step->late || !session->live) {
        return;
    }
    /* Of the clock by which it is now, as far as that is known. */
    double came_s = time_julian_date(began) * 86400 + now_s - session->began_s;
    arrivals_add(&session->arrivals, step->time_s + frame->exposure_s / 2, came_s);
    step->late_s = arrivals_late_s(&session->arrivals);
    step->reading_s = solved ? solved->read_ms / 1000 : 0;
    bool known = step->is_utc && began.day > 0 && !has_slept(frame, came_s);
    if (known && step->clock_doubt.by == CLOCK_DOUBT_NONE &&
        arrivals_lag(&lag_s, &session->arrivals)) {
        clock_doubt_of_lag(&step->clock_doubt, lag_s);
    }
}

void session_take(struct watch_session *session, struct night_frame *frame,
                  struct solved_frame *solved)
{
    struct alert told[ALERTS_MOST];
    struct night_step step;
    struct aim_target target;
    struct error err = {0};
    heed_change(session);
    if (watch_advice_target(&target, &session->advice, frame)) {
        night_frame_aim(frame, &target);
    }
    watch_advice_step(&step, &session->advice, frame);
    note_arrival(&step, session, frame, solved);
    int count = alerts_feed(told, &session->alerts, frame, &step);
    step.left = alerts_frames_left(&session->alerts, &step);
    if (session->listener->frame) {
        session->listener->frame(session->listener->context, frame, &step,
                                 alerts_lasting(&session->alerts));
    }
    say(session, told, count, frame, solved, step.cadence_s);
    tell_standing(session, frame, solved, &step);
    tell_log(session, night_log_add(&session->log, frame, &err), &err);
    note_seen(session, frame);
    lay(session, frame, solved);
    session->frames++;
    session->solved += frame->solved;
    session->mean_bytes += ((double)frame->bytes - session->mean_bytes) / (double)session->frames;
    session->arrived_s = stopwatch_s();
}

void session_sync(struct watch_session *session)
{
    struct error err = {0};
    tell_log(session, night_log_sync(&session->log, &err), &err);
}

/* Room on the disk of the folder, in frames; -1: unknown. */
static double find_room(const struct watch_session *session)
{
    struct statvfs disk;
    if (session->mean_bytes <= 0 || statvfs(session->path, &disk) != 0 || disk.f_blocks == 0 ||
        disk.f_flag & ST_RDONLY) {
        return -1;
    }
    return (double)disk.f_bavail * (double)disk.f_frsize / session->mean_bytes;
}

/* How long no frame may come before that is told. */
static double find_quiet(const struct watch_session *session)
{
    double wished = session->wish->quiet_s;
    return wished > 0 ? wished : pace_quiet_s(session->advice.cadence_s);
}

void session_tick(struct watch_session *session)
{
    struct alert told[ALERTS_MOST];
    const struct alert_watch sight = {.waited_s =
                                          session->frames ? stopwatch_s() - session->arrived_s : 0,
                                      .quiet_s = find_quiet(session),
                                      .free_frames = find_room(session),
                                      .cadence_s = session->advice.cadence_s};
    int count = alerts_tick(told, &session->alerts, &sight);
    say(session, told, count, NULL, NULL, 0);
}

void session_write_stack(struct watch_session *session, bool last)
{
    struct error err = {0};
    if (last && night_stack_is_behind(&session->stack)) {
        night_stack_measure(&session->stack);
        pass_news(session);
    }
    tell_stack(session, night_stack_write(&session->stack, stopwatch_s(), last, &err), &err);
}
