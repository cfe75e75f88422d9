#include "cli/watch_session.h"

#include "base/path.h"
#include "base/stopwatch.h"
#include "base/text.h"
#include "cli/alert_command.h"
#include "cli/claims.h"
#include "cli/find_target.h"
#include "image/frame_name.h"

#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

static const char usual_log[] = "alidade-night.jsonl";

void session_complain(const struct error *err)
{
    fprintf(stderr, "alidade watch: %s\n", err->text);
}

/* The log is the only file that is written. */
static int check_log(const struct watch_session *session, const char *log, struct error *err)
{
    const struct output output = {log, session->settings->log ? "--log" : "the log",
                                  .is_added_to = true};
    struct outputs outputs = {0};
    int code = claims_add_usual(&outputs, session->aim.index, session->aim.catalogs,
                                &session->aim.hints.rig, err);
    code = code ? code
                : outputs_add_folder(&outputs, session->path, "a frame of the folder",
                                     frame_name_is_frame, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

static int open_log(struct watch_session *session, struct error *err)
{
    const char *wished = session->settings->log;
    char *usual = path_join(session->path, usual_log);
    if (!usual) {
        return error_memory(err);
    }
    const char *name = wished ? wished : usual;
    int code = check_log(session, name, err);
    code = code ? code : night_log_open(&session->log, &session->before, name, err);
    if (code == ERROR_OUTPUT && !wished) {
        text_append(err->text, sizeof err->text, "; name another place with --log");
    }
    free(usual);
    return code;
}

/* The log tells what the night was like until now; nothing of it is said again. */
static int replay(struct watch_session *session, struct error *err)
{
    struct alert unsaid[ALERTS_MOST];
    struct night_step step;
    for (int i = 0; i < session->before.count; i++) {
        const struct night_frame *frame = &session->before.frame[i];
        guide_step(&step, &session->guide, frame);
        alerts_feed(unsaid, &session->alerts, frame, &step);
    }
    return night_known_index(&session->known, &session->before, err);
}

int session_open(struct watch_session *session, const struct watch_settings *settings,
                 const char *path, FILE *out, struct error *err)
{
    session->settings = settings;
    session->path = path;
    session->out = out;
    session->style = (struct watch_style){
        .json = settings->aim.json, .terminal = isatty(fileno(out)) != 0, .red = settings->red};
    session->aim = settings->aim;
    session->aim.hints = settings->hints;
    session->aim.index = settings->index;
    session->aim.catalogs = settings->catalogs;
    session->context.settings = &session->aim;
    session->guide.context = &session->context;
    session->alerts.wish = (struct alert_wish){settings->warn, settings->aim.batch};
    int code = target_find(&session->context, err);
    if (!code) {
        code = solver_open(&session->context.solver, session->aim.index, session->aim.catalogs,
                           &session->aim.hints, err);
        session->context.solver.want_health = true;
    }
    if (!code) {
        code = open_log(session, err);
    }
    return code ? code : replay(session, err);
}

void session_close(struct watch_session *session)
{
    night_log_close(&session->log);
    night_known_free(&session->known);
    night_list_free(&session->before);
    solver_close(&session->context.solver);
    objects_free(&session->context.objects);
    memset(session, 0, sizeof *session);
}

bool session_knows(const struct watch_session *session, const struct folder_file *file)
{
    return night_known_find(&session->known, file->name, file->size, file->changed_ns) != NULL;
}

static void run_command(const struct watch_session *session, const struct alert *alert,
                        const char *frame)
{
    struct error err = {0};
    const struct alert_message message = {alert_key(alert->kind), alert_title(alert->kind),
                                          alert->text, frame};
    if (session->settings->on_alert && alert_is_loud(alert->kind) &&
        alert_command_start(session->settings->on_alert, &message, &err)) {
        session_complain(&err);
    }
}

/* frame and solved may be NULL. */
static void say(struct watch_session *session, const struct alert *alert, int count,
                const struct night_frame *frame, const struct solved_frame *solved, double every_s)
{
    struct aim_answer *answer = NULL;
    for (int i = 0; i < count; i++) {
        bool wants = solved && solved->solution.solved && alert_wants_move(alert[i].kind);
        if (wants && !answer && (answer = calloc(1, sizeof *answer)) != NULL) {
            guide_advise(answer, &session->guide, solved, every_s);
        }
        watch_report_alert(session->out, &session->style, &alert[i], frame, wants ? answer : NULL);
        run_command(session, &alert[i], frame ? frame->name : "");
        session->told += alert_is_loud(alert[i].kind);
    }
    free(answer);
}

int session_renew_index(struct watch_session *session, const volatile sig_atomic_t *stopped,
                        struct error *err)
{
    const struct timespec breath = {.tv_nsec = 250000000};
    const int most_tries = 120;
    struct solver *solver = &session->context.solver;
    struct error why = {0};
    int code = ERROR_INPUT;
    for (int i = 0; code && i < most_tries && !*stopped; i++) {
        nanosleep(&breath, NULL);
        why = (struct error){0};
        code = solver_renew(solver, &why);
    }
    if (!code) {
        fprintf(stderr, "alidade watch: %s: the index was written to; it is opened anew\n",
                solver->index_name);
    }
    return code && !*stopped ? error_set(err, code, "%s", why.text) : 0;
}

static void tell_log(struct watch_session *session, int code, const struct error *err)
{
    if (code && !session->log_failing) {
        session_complain(err);
        fprintf(stderr, "alidade watch: frames are still followed, and their lines kept until it "
                        "can be written\n");
    }
    session->log_failing = code != 0;
}

void session_take(struct watch_session *session, struct night_frame *frame,
                  const struct solved_frame *solved)
{
    struct alert told[ALERTS_MOST];
    struct night_step step;
    struct error err = {0};
    night_frame_aim(frame, &session->context.target);
    guide_step(&step, &session->guide, frame);
    int count = alerts_feed(told, &session->alerts, frame, &step);
    watch_report_frame(session->out, &session->style, frame, &step,
                       alerts_lasting(&session->alerts));
    say(session, told, count, frame, solved, step.every_s);
    tell_log(session, night_log_add(&session->log, frame, &err), &err);
    fflush(session->out);
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
    double wished = session->settings->quiet_s;
    return wished > 0 ? wished : pace_quiet_s(session->guide.every_s);
}

void session_tick(struct watch_session *session)
{
    struct alert told[ALERTS_MOST];
    const struct alert_watch sight = {.waited_s =
                                          session->frames ? stopwatch_s() - session->arrived_s : 0,
                                      .quiet_s = find_quiet(session),
                                      .free_frames = find_room(session)};
    int count = alerts_tick(told, &session->alerts, &sight);
    say(session, told, count, NULL, NULL, 0);
    fflush(session->out);
    alert_command_reap();
}
