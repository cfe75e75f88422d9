#include "jobs/job_watch.h"

#include "jobs/watch_follow.h"

#include <stdlib.h>

/* Everything of a run: too much for a stack. */
struct watching {
    struct aim_context context;
    struct solve_wish solve;
    struct watch_session session;
    struct watch_folder folder;
};

static void tell(void (*listen)(void *, const struct watch_session *), void *context,
                 const struct watch_session *session)
{
    if (listen) {
        listen(context, session);
    }
}

static int follow(struct watching *w, const struct job_watch_wish *wish,
                  const struct job_control *control, struct error *err)
{
    const struct watch_listener *listener = w->session.listener;
    tell(listener->began, listener->context, &w->session);
    int code = session_restack(&w->session, control, err);
    code = code ? code : watch_follow(&w->folder, &w->session, wish->once, control, err);
    session_write_stack(&w->session, true);
    if (!code) {
        tell(listener->ended, listener->context, &w->session);
        code = night_log_sync(&w->session.log, err);
    }
    return code;
}

static int run(struct watching *w, struct job_engine *engine, const char *folder,
               const struct job_watch_wish *wish, const struct watch_listener *listener,
               const struct job_control *control, struct error *err)
{
    const struct watch_task task = {&wish->watch, &w->context, &w->solve, engine};
    w->context = (struct aim_context){&wish->aim, engine, wish->target, wish->plan};
    w->solve = wish->solve;
    w->solve.want_health = true;
    w->solve.keep_planes = stack_wish_given(&wish->watch.stack);
    w->solve.accepted_s = wish->plan ? wish->plan->exposure_s : 0;
    int code = folder_open(&w->folder, folder, wish->poll, err);
    code = code ? code : session_open(&w->session, &task, listener, folder, err);
    w->session.live = !wish->once;
    return code ? code : follow(w, wish, control, err);
}

int job_watch(struct job_watch_result *result, struct job_engine *engine, const char *folder,
              const struct job_watch_wish *wish, const struct watch_listener *listener,
              const struct job_control *control, struct error *err)
{
    struct watching *w = calloc(1, sizeof *w);
    *result = (struct job_watch_result){0};
    if (!w) {
        return error_memory(err);
    }
    int code = run(w, engine, folder, wish, listener, control, err);
    *result = (struct job_watch_result){w->session.frames, w->session.solved, w->session.told};
    session_close(&w->session);
    folder_close(&w->folder);
    free(w);
    return code;
}
