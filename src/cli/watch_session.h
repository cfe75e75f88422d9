/* cli/watch_session.h: what becomes of the frames of a night that is watched: a line and alerts for
 * the photographer, a line in the log. */
#ifndef ALIDADE_CLI_WATCH_SESSION_H
#define ALIDADE_CLI_WATCH_SESSION_H

#include "cli/aim_answer.h"
#include "cli/watch_folder.h"
#include "cli/watch_guide.h"
#include "cli/watch_report.h"
#include "night/alerts.h"
#include "night/night_known.h"
#include "night/night_log.h"

#include <signal.h>
#include <stdbool.h>
#include <stdio.h>

/* What the user asks for. */
struct watch_settings {
    struct aim_settings aim; /* but for its hints, index and catalogs, which are these: */
    struct hint_settings hints;
    const char *index, *catalogs;
    const char *log, *on_alert;
    int warn;
    double quiet_s;
    bool once, poll, red;
};

/* Starts as all zeros; free with session_close. May not be moved while it is open. */
struct watch_session {
    const struct watch_settings *settings;
    const char *path; /* of the folder */
    FILE *out;
    struct watch_style style;
    struct aim_settings aim; /* the whole of it */
    struct aim_context context;
    struct night_log log;
    struct night_list before; /* what the log held at the start */
    struct night_known known; /* of these */
    struct watch_guide guide;
    struct alerts alerts;

    long frames, solved, told; /* of this run; told: loud alerts */
    double mean_bytes;
    double arrived_s; /* when the latest frame came, on stopwatch_s */
    bool log_failing;
};

/* Finds the target, the index and the log, and goes through the frames that the log holds, of which
 * nothing is said again. settings, path and out are borrowed. Errors as target_find, solver_open,
 * night_log_open. */
int session_open(struct watch_session *session, const struct watch_settings *settings,
                 const char *path, FILE *out, struct error *err);
void session_close(struct watch_session *session);

/* Whether the log holds this very file. */
bool session_knows(const struct watch_session *session, const struct folder_file *file);

/* Takes in a new frame: to be called in the order of the frames, on one thread at a time. The
 * solution is NULL for a file that could not be read. Its line is safe on the disk after
 * session_sync. */
void session_take(struct watch_session *session, struct night_frame *frame,
                  const struct solved_frame *solved);

/* Opens the index anew after it was written to, and says so; gives whoever writes it half a minute.
 * Does nothing once *stopped is set. ERROR_INPUT: it is no index now. */
int session_renew_index(struct watch_session *session, const volatile sig_atomic_t *stopped,
                        struct error *err);

/* Brings the lines of the log to the disk; failing is told once, and is no error. */
void session_sync(struct watch_session *session);

/* Tells what is to be seen without a new frame: that none comes, that the disk is nearly full. */
void session_tick(struct watch_session *session);

/* A sentence of its own on stderr. */
void session_complain(const struct error *err);

#endif
