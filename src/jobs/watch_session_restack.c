#include "base/path.h"
#include "base/text.h"
#include "jobs/watch_session.h"

#include <stdlib.h>
#include <unistd.h>

/* The frame's file as it lies now: in the folder, or where the log says. */
static char *find_path(const struct watch_session *session, const struct night_frame *frame)
{
    char *path = path_join(session->path, path_base(frame->name));
    if (path && access(path, R_OK) != 0) {
        free(path);
        path = text_copy(frame->name);
    }
    return path;
}

static void tell_loss(const struct watch_session *session, int frames)
{
    struct error err = {0};
    int lost = session->stack.emergence.lost[JUDGE_UNREAD];
    if (lost) {
        error_set(&err, 0,
                  "%d of %d frames of the log are not in the stack: they cannot be read now", lost,
                  frames);
        session_complain(session, &err);
    }
}

int session_restack(struct watch_session *session, const struct job_control *control,
                    struct error *err)
{
    const struct night_list *list = &session->before;
    const struct job_control part = job_control_of_part(control);
    const struct night_stack_reading how = {.solve = session->solve,
                                            .engine = session->engine,
                                            .control = &part,
                                            .threads = session->wish->threads};
    if (!session->stack.wish || !list->count) {
        return 0;
    }
    struct night_stack_file *file = calloc((size_t)list->count, sizeof *file);
    char **path = calloc((size_t)list->count, sizeof *path);
    int code = file && path ? 0 : error_memory(err);
    for (int i = 0; !code && i < list->count; i++) {
        path[i] = find_path(session, &list->frame[i]);
        file[i] = (struct night_stack_file){.frame = &list->frame[i], .path = path[i]};
        code = path[i] ? 0 : error_memory(err);
    }
    code = code ? code : night_stack_read(&session->stack, file, list->count, &how, err);
    for (int i = 0; path && i < list->count; i++) {
        free(path[i]);
    }
    free(path);
    free(file);
    tell_loss(session, list->count);
    return code;
}
