#include "page/live_request.h"

#include "base/stopwatch.h"
#include "base/text.h"
#include "page/live_answer.h"
#include "page/live_routes.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const double longest_s = 120; /* of a request and its answer */

static const char *header(struct MHD_Connection *connection, const char *name)
{
    return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static struct live_line *line_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info ? info->socket_context : NULL;
}

/* What follows "/KEY/", or "/" where no key is needed; NULL without the key. */
static const char *below_key(const char *url, const char *key)
{
    const char *rest = url[0] == '/' ? url + 1 : NULL;
    if (!rest || !key[0]) {
        return rest;
    }
    size_t length = strcspn(rest, "/");
    return live_key_matches(rest, length, key) ? rest + length : NULL;
}

/* A page of another origin may not ask for anything, nor send anything here. */
static bool is_from_here(struct MHD_Connection *connection, const char *host, bool posts)
{
    const char *origin = header(connection, "Origin");
    const char *site = header(connection, "Sec-Fetch-Site");
    char own[LIVE_HOST_SIZE + 16];
    snprintf(own, sizeof own, "http://%s", host);
    if (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0) {
        return false;
    }
    return origin ? strcasecmp(origin, own) == 0 : !posts;
}

static unsigned check_length(struct MHD_Connection *connection, const struct live_route *route)
{
    const char *text = header(connection, "Content-Length");
    long length;
    if (!text || header(connection, "Transfer-Encoding") || !text_read_long(&length, text) ||
        length < 0) {
        return MHD_HTTP_LENGTH_REQUIRED;
    }
    return (size_t)length > route->most_bytes ? MHD_HTTP_CONTENT_TOO_LARGE : 0;
}

static enum MHD_Result refuse(struct MHD_Connection *connection, unsigned status)
{
    static const struct {
        unsigned status;
        const char *sentence;
    } why[] = {
        {MHD_HTTP_BAD_REQUEST, "that cannot be read"},
        {MHD_HTTP_FORBIDDEN, "this address, or the page that asks, is not this one's"},
        {MHD_HTTP_NOT_FOUND, "there is nothing here"},
        {MHD_HTTP_LENGTH_REQUIRED, "how long it is must be said beforehand"},
        {MHD_HTTP_CONTENT_TOO_LARGE, "too large: at most 64 MB"},
        {MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "a form was expected"},
    };
    size_t i = sizeof why / sizeof *why - 1;
    while (i > 0 && why[i].status != status) {
        i--;
    }
    return live_answer_error(connection, why[i].status, why[i].sentence);
}

static enum MHD_Result keep_text(char out[LIVE_FORM_TEXT], struct live_request *request,
                                 const char *data, uint64_t at, size_t size)
{
    if (at + size >= LIVE_FORM_TEXT || memchr(data, '\0', size)) {
        request->too_large = true;
        return MHD_NO;
    }
    memcpy(out + at, data, size);
    return MHD_YES;
}

static enum MHD_Result keep_bytes(struct live_request *request, const char *data, size_t size)
{
    struct live_task *task = &request->task;
    if (task->size + size > LIVE_UPLOAD_BYTES) {
        request->too_large = true;
        return MHD_NO;
    }
    if (task->size + size > request->capacity) {
        const size_t least = 1 << 16;
        size_t capacity = 2 * request->capacity > task->size + size ? 2 * request->capacity
                                                                    : task->size + size + least;
        unsigned char *bytes = realloc(task->bytes, capacity);
        if (!bytes) {
            request->too_large = true;
            return MHD_NO;
        }
        task->bytes = bytes;
        request->capacity = capacity;
    }
    memcpy(task->bytes + task->size, data, size);
    task->size += size;
    return MHD_YES;
}

/* A piece of a field of the form; others than these are passed over. */
static enum MHD_Result take_field(void *context, enum MHD_ValueKind kind, const char *key,
                                  const char *filename, const char *type, const char *encoding,
                                  const char *data, uint64_t at, size_t size)
{
    struct live_request *request = context;
    (void)kind;
    (void)filename;
    (void)type;
    (void)encoding;
    if (!key || size == 0) {
        return MHD_YES;
    }
    if (strcmp(key, "picture") == 0) {
        return request->route->most_bytes == LIVE_UPLOAD_BYTES ? keep_bytes(request, data, size)
                                                               : MHD_YES;
    }
    char *text = strcmp(key, "target") == 0  ? request->form.target
                 : strcmp(key, "batch") == 0 ? request->form.batch
                 : strcmp(key, "hours") == 0 ? request->form.hours
                                             : NULL;
    return text ? keep_text(text, request, data, at, size) : MHD_YES;
}

/* Whether it may be answered at all: 0, or the status that says why not. */
static unsigned check(struct live_request *request, const struct live_site *site,
                      const struct live_line *line, const char *url, const char *method)
{
    struct MHD_Connection *connection = request->connection;
    const char *host = header(connection, "Host");
    bool posts = strcmp(method, "POST") == 0;
    if (!host || !live_address_is_host(site->address, line->socket, host) ||
        !is_from_here(connection, host, posts)) {
        return MHD_HTTP_FORBIDDEN;
    }
    const char *name = below_key(url, site->key);
    if (!name || (!posts && strcmp(method, "GET") != 0)) {
        return MHD_HTTP_NOT_FOUND;
    }
    bool bare = site->key[0] && name[0] == '\0'; /* the key without the slash behind it */
    const struct live_route *route =
        bare ? NULL : live_routes_find(name + (site->key[0] != '\0'), posts);
    if (bare && !posts) {
        return MHD_HTTP_FOUND;
    }
    if (!route) {
        return MHD_HTTP_NOT_FOUND;
    }
    unsigned status = posts ? check_length(connection, route) : 0;
    request->route = status ? NULL : route;
    return status;
}

static enum MHD_Result begin(struct live_desk *desk, struct MHD_Connection *connection,
                             const char *url, const char *method, void **context)
{
    const size_t buffer = 16384;
    char key[LIVE_KEY_SIZE + 2];
    struct live_line *line = line_of(connection);
    struct live_request *request = line ? calloc(1, sizeof *request) : NULL;
    if (!request) {
        return MHD_NO;
    }
    *context = request;
    desk->requests++;
    request->connection = connection;
    request->begun_s = stopwatch_s();
    line->deadline_s = request->begun_s + longest_s;
    unsigned status = check(request, desk->site, line, url, method);
    if (status == MHD_HTTP_FOUND) {
        snprintf(key, sizeof key, "%s/", desk->site->key);
        return live_answer_elsewhere(connection, key);
    }
    if (!status && request->route->posts) {
        request->post = MHD_create_post_processor(connection, buffer, take_field, request);
        status = request->post ? 0 : MHD_HTTP_UNSUPPORTED_MEDIA_TYPE;
    }
    return status ? refuse(connection, status) : MHD_YES;
}

static enum MHD_Result take_data(struct live_request *request, const char *data, size_t *size)
{
    request->received += *size;
    if (stopwatch_s() - request->begun_s > longest_s ||
        request->received > request->route->most_bytes) {
        return MHD_NO;
    }
    if (!request->too_large) {
        MHD_post_process(request->post, data, *size);
    }
    *size = 0;
    return MHD_YES;
}

static enum MHD_Result answer(struct live_desk *desk, struct live_request *request)
{
    if (request->post) {
        MHD_destroy_post_processor(request->post);
        request->post = NULL;
    }
    if (request->too_large) {
        return refuse(request->connection, request->route->most_bytes == LIVE_UPLOAD_BYTES
                                               ? MHD_HTTP_CONTENT_TOO_LARGE
                                               : MHD_HTTP_BAD_REQUEST);
    }
    return request->route->answer(desk, request, line_of(request->connection));
}

enum MHD_Result live_request_handle(void *desk, struct MHD_Connection *connection, const char *url,
                                    const char *method, const char *version, const char *data,
                                    size_t *size, void **context)
{
    struct live_request *request = *context;
    (void)version;
    if (!request) {
        return begin(desk, connection, url, method, context);
    }
    if (!request->route) {
        *size = 0; /* of what was refused already */
        return MHD_YES;
    }
    return *size > 0 && request->post ? take_data(request, data, size) : answer(desk, request);
}

void live_request_end(void *context, struct MHD_Connection *connection, void **given,
                      enum MHD_RequestTerminationCode code)
{
    const double idle_s = 20;
    struct live_desk *desk = context;
    struct live_request *request = *given;
    struct live_line *line = line_of(connection);
    (void)code;
    (void)desk;
    if (line) {
        line->deadline_s = stopwatch_s() + idle_s;
    }
    if (request) {
        if (request->post) {
            MHD_destroy_post_processor(request->post);
        }
        json_free(&request->task.answer);
        free(request->task.bytes);
        free(request);
    }
    *given = NULL;
}

void live_request_go_on(struct live_desk *desk)
{
    const struct live_hooks *hooks = desk->site->hooks;
    for (int i = 0; i < LIVE_TASKS; i++) {
        struct live_request *request = desk->waiting[i];
        if (request && hooks->is_done(hooks->context, &request->task)) {
            desk->waiting[i] = NULL;
            request->waits = false;
            MHD_resume_connection(request->connection);
        }
    }
}
