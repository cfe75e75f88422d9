/* jobs/watch_session.h: what becomes of the frames of a night that is watched: the frame and its
 * alerts for whoever listens, a line in the log. */
#ifndef ALIDADE_JOBS_WATCH_SESSION_H
#define ALIDADE_JOBS_WATCH_SESSION_H

#include "jobs/aim_answer.h"
#include "jobs/job_control.h"
#include "jobs/night_stack.h"
#include "jobs/watch_advice.h"
#include "jobs/watch_folder.h"
#include "night/alerts.h"
#include "night/arrivals.h"
#include "night/night_known.h"
#include "night/night_log.h"

#include <stdbool.h>

/* What is wanted; of the aim, the batch is what alerts speak of. */
struct watch_wish {
    const char *log; /* NULL: NIGHT_LOG_NAME in the folder */
    int warn;        /* frames before a re-centring is due */
    double quiet_s;  /* without a frame, before that is an alert; 0: as the frames come */
    int threads;     /* 0: one a processor */
    struct stack_wish stack;
};

/* All that a watch works with, borrowed. */
struct watch_task {
    const struct watch_wish *wish;
    const struct aim_context *context; /* with its target, and the same engine */
    const struct solve_wish *solve;    /* with want_health */
    struct job_engine *engine;
};

struct watch_session;

/* How things stand after a frame. All borrowed. */
struct watch_standing {
    const struct night_frame *frame;
    const char *lasting;
    bool on_target, overdue; /* the target is followed; it should have been re-centred */
    double left;             /* frames until it is to be; infinite: not for hours */
    double visible;          /* frames until the target is behind the skyline; infinite: never */
    const struct aim_answer *answer;
};

/* What may be wanted otherwise while it runs. */
struct watch_change {
    struct aim_target target;
    int batch; /* frames; 0: as is advised */
};

/* Who is told; called by one thread at a time. Members may be NULL. */
struct watch_listener {
    void *context;
    /* The log is open, what it holds is known; all frames are through. */
    void (*began)(void *context, const struct watch_session *session);
    void (*ended)(void *context, const struct watch_session *session);
    /* A new frame. lasting: what is wrong with frames for now, as alerts_lasting; may be NULL. */
    void (*frame)(void *context, const struct night_frame *frame, const struct night_step *step,
                  const char *lasting);
    /* frame and answer may be NULL: it is about no frame; no move belongs to it. */
    void (*alert)(void *context, const struct alert *alert, const struct night_frame *frame,
                  const struct aim_answer *answer);
    /* What comes next, after each frame and its alerts. answer is the move that will be due in that
     * many frames; NULL if it is not known. */
    void (*standing)(void *context, const struct watch_standing *standing);
    /* The target in the stack was measured anew. */
    void (*stack)(void *context, const struct night_stack *stack);
    /* What does not stop the watch: a log that cannot be written, a folder that is away. */
    void (*trouble)(void *context, const struct error *err);
    /* Asked before each frame is taken in: *change is what is wanted so far; true if it was
     * changed, which counts from this frame on. */
    bool (*change)(void *context, struct watch_change *change);
};

/* Starts as all zeros; free with session_close. May not be moved while it is open. */
struct watch_session {
    const struct watch_wish *wish;
    const struct watch_listener *listener;
    struct aim_wish aim;
    struct aim_context context; /* of this wish; both may change from frame to frame */
    const struct solve_wish *solve;
    struct job_engine *engine; /* gets another index where that was written to */
    const char *path;          /* of the folder */
    struct night_log log;
    struct night_list before; /* what the log held at the start */
    struct night_known known; /* of these */
    struct night_stack stack; /* takes nothing unless one is wanted */
    struct night_seen seen;   /* contents that were taken in during this run */
    struct watch_advice advice;
    struct alerts alerts;

    long frames, solved, told; /* of this run; told: loud alerts */
    double mean_bytes;
    double arrived_s; /* when the latest frame came, on stopwatch_s */
    double began_s;   /* when the watch did, likewise */
    bool live;        /* frames are taken meanwhile, so that it counts when they come */
    struct arrivals arrivals;
    bool log_failing, stack_failing;
};

/* Opens the log, and goes through the frames that it holds, of which nothing is said again. All is
 * borrowed. Errors as night_log_open;
 * ERROR_MEMORY. */
int session_open(struct watch_session *session, const struct watch_task *task,
                 const struct watch_listener *listener, const char *path, struct error *err);
void session_close(struct watch_session *session);

/* Whether a file of this content was taken in, in this run or by the log, so that another try would
 * say no more. */
bool session_knows(const struct watch_session *session, const char *path,
                   const struct night_file *file);
/* Whether the log says of this file already that it cannot be read, for that reason. */
bool session_knows_unread(const struct watch_session *session, const char *path,
                          const struct night_file *file, enum error_cause cause);

/* Takes in a new frame: to be called in the order of the frames, on one thread at a time. The
 * solution is NULL for a file that could not be read; of one with planes these are changed. Its
 * line is safe on the disk after session_sync. */
void session_take(struct watch_session *session, struct night_frame *frame,
                  struct solved_frame *solved);

/* Lays the frames that the log held at the start into the stack, as far as their files are still
 * there; tells the listener how many were lost. ERROR_MEMORY. */
int session_restack(struct watch_session *session, const struct job_control *control,
                    struct error *err);

/* Writes the stack's files if they would be new; last: for the last time. */
void session_write_stack(struct watch_session *session, bool last);

/* Brings the lines of the log to the disk; failing is told once, and is no error. */
void session_sync(struct watch_session *session);

/* Tells what is to be seen without a new frame: that none comes, that the disk is nearly full. */
void session_tick(struct watch_session *session);

/* Opens the index anew after it was written to, which the listener is told; gives whoever writes it
 * half a minute. Does nothing once the job is cancelled. ERROR_INPUT: it is no index now. */
int session_renew_index(struct watch_session *session, const struct job_control *control,
                        struct error *err);

/* Tells the listener of a trouble. */
void session_complain(const struct watch_session *session, const struct error *err);

#endif
