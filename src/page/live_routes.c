#include "page/live_routes.h"

#include "page/live_answer.h"
#include "page/live_files.h"

#include <string.h>

static enum MHD_Result answer_page(struct live_desk *desk, struct live_request *request,
                                   struct live_line *line)
{
    const struct live_file *file = live_files_find(request->route->name);
    (void)desk;
    (void)line;
    return live_answer_static(request->connection, file->type, file->bytes, file->size);
}

static enum MHD_Result answer_events(struct live_desk *desk, struct live_request *request,
                                     struct live_line *line)
{
    enum MHD_Result result =
        live_events_begin(&desk->events, request->connection, &line->deadline_s);
    desk->site->hooks->looked(desk->site->hooks->context);
    return result;
}

static enum MHD_Result answer_blob(struct live_desk *desk, struct live_request *request,
                                   enum live_topic topic, const char *type)
{
    return live_answer_blob(request->connection, type, live_feed_take(desk->site->feed, topic));
}

static enum MHD_Result answer_state(struct live_desk *desk, struct live_request *request,
                                    struct live_line *line)
{
    (void)line;
    return answer_blob(desk, request, LIVE_STATE, "application/json");
}

static enum MHD_Result answer_picture(struct live_desk *desk, struct live_request *request,
                                      struct live_line *line)
{
    (void)line;
    return answer_blob(desk, request, LIVE_PICTURE, "image/jpeg");
}

static enum MHD_Result answer_glimpse(struct live_desk *desk, struct live_request *request,
                                      struct live_line *line)
{
    (void)line;
    return answer_blob(desk, request, LIVE_GLIMPSE, "image/jpeg");
}

static enum MHD_Result answer_want(struct live_desk *desk, struct live_request *request,
                                   struct live_line *line)
{
    const struct live_hooks *hooks = desk->site->hooks;
    struct error err = {0};
    (void)line;
    if (!hooks->want(hooks->context, &request->form, &err)) {
        return live_answer_error(request->connection, MHD_HTTP_UNPROCESSABLE_CONTENT, err.text);
    }
    return live_answer_json(request->connection, MHD_HTTP_OK, "{}", 2);
}

/* Lets the connection rest until the task is done. */
static enum MHD_Result wait_for(struct live_desk *desk, struct live_request *request,
                                struct live_line *line,
                                bool (*ask)(void *context, struct live_task *task))
{
    int at = 0;
    while (at < LIVE_TASKS && desk->waiting[at]) {
        at++;
    }
    if (at == LIVE_TASKS || !ask(desk->site->hooks->context, &request->task)) {
        return live_answer_error(request->connection, MHD_HTTP_SERVICE_UNAVAILABLE,
                                 "busy with another picture: try again in some seconds");
    }
    desk->waiting[at] = request;
    request->asked = request->waits = true;
    line->deadline_s = 0;
    MHD_suspend_connection(request->connection);
    return MHD_YES;
}

static enum MHD_Result answer_task(struct live_desk *desk, struct live_request *request,
                                   struct live_line *line,
                                   bool (*ask)(void *context, struct live_task *task))
{
    const struct json *answer = &request->task.answer;
    if (!request->asked) {
        return wait_for(desk, request, line, ask);
    }
    if (!answer->text || answer->failed) {
        return live_answer_error(request->connection, MHD_HTTP_SERVICE_UNAVAILABLE,
                                 "that was not finished");
    }
    return live_answer_json(request->connection, MHD_HTTP_OK, answer->text, answer->length);
}

static enum MHD_Result answer_look(struct live_desk *desk, struct live_request *request,
                                   struct live_line *line)
{
    if (!request->task.size) {
        return live_answer_error(request->connection, MHD_HTTP_BAD_REQUEST, "no picture was sent");
    }
    return answer_task(desk, request, line, desk->site->hooks->look_at);
}

static enum MHD_Result answer_others(struct live_desk *desk, struct live_request *request,
                                     struct live_line *line)
{
    return answer_task(desk, request, line, desk->site->hooks->others);
}

static const struct live_route routes[] = {
    {"", false, 0, answer_page},
    {"live.css", false, 0, answer_page},
    {"live.js", false, 0, answer_page},
    {"events", false, 0, answer_events},
    {"state", false, 0, answer_state},
    {"picture.jpg", false, 0, answer_picture},
    {"glimpse.jpg", false, 0, answer_glimpse},
    {"want", true, LIVE_FORM_BYTES, answer_want},
    {"look", true, LIVE_UPLOAD_BYTES, answer_look},
    {"others", true, LIVE_FORM_BYTES, answer_others},
};

const struct live_route *live_routes_find(const char *name, bool posts)
{
    for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) {
        if (strcmp(routes[i].name, name) == 0 && routes[i].posts == posts) {
            return &routes[i];
        }
    }
    return NULL;
}
