#include "jobs/watch_follow.h"

#include "base/stopwatch.h"
#include "jobs/watch_block.h"

static const double poll_s = 1, report_poll_s = 5, settling_poll_s = 0.25;

/* Everything of a run. */
struct watch {
    struct watch_folder *folder;
    struct watch_session *session;
    const struct job_control *control;
    bool once, folder_failing;
};

/* A folder that cannot be read any more may come back: a card, a network drive. */
static int look(struct watch *watch, struct error *err)
{
    struct error why = {0};
    int code = folder_look(watch->folder, stopwatch_s(), &why);
    if (code == ERROR_INPUT && !watch->once) {
        if (!watch->folder_failing) {
            session_complain(watch->session, &why);
        }
        watch->folder_failing = true;
        return 0;
    }
    watch->folder_failing = false;
    return code ? error_set(err, code, "%s", why.text) : 0;
}

static int take_all(struct watch *watch, struct error *err)
{
    bool any = true;
    int code = 0;
    while (!code && any && !job_is_cancelled(watch->control)) {
        code = watch_block_do(&any, watch->folder, watch->session, watch->control, err);
    }
    return code;
}

/* Once, all frames are taken in the order of their names, so none before the last is complete. */
int watch_follow(struct watch_folder *folder, struct watch_session *session, bool once,
                 const struct job_control *control, struct error *err)
{
    struct watch watch = {folder, session, control, once, false};
    while (!job_is_cancelled(control)) {
        int code = look(&watch, err);
        if (!code && !(once && folder_is_growing(folder))) {
            code = take_all(&watch, err);
        }
        if (code) {
            return code;
        }
        bool growing = folder_is_growing(folder);
        session_tick(session);
        session_write_stack(session, false);
        if (once && !growing) {
            break;
        }
        folder_wait(folder, growing                ? settling_poll_s
                            : folder->reports >= 0 ? report_poll_s
                                                   : poll_s);
    }
    return 0;
}
