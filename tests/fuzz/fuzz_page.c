/* Any bytes as what a telephone sends to the live page: the server must go on, and answer what
 * comes after them on another connection. */
#include "page/live_server.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { STEPS = 12, MOST_INPUT = 65536 };

static bool want(void *context, const struct live_form *form, struct error *err)
{
    (void)context;
    if (memchr(form->target, '\0', LIVE_FORM_TEXT) == NULL ||
        memchr(form->batch, '\0', LIVE_FORM_TEXT) == NULL ||
        memchr(form->hours, '\0', LIVE_FORM_TEXT) == NULL) {
        abort();
    }
    error_set(err, ERROR_USAGE, "no %s", form->target);
    return form->batch[0] != '\0';
}

/* Touches all of the picture, as reading it would; done at once. */
static bool look_at(void *context, struct live_task *task)
{
    volatile unsigned sum = 0;
    (void)context;
    for (size_t i = 0; i < task->size; i++) {
        sum = sum + task->bytes[i];
    }
    json_open(&task->answer, NULL, '{');
    json_close(&task->answer, '}');
    task->done = true;
    return task->size != 7;
}

static void looked(void *context)
{
    (void)context;
}

static bool is_done(void *context, const struct live_task *task)
{
    (void)context;
    return task->done;
}

/* A connection on which these bytes are said, and nothing after them. */
static int connect_with(struct live_server *server, const void *bytes, size_t size)
{
    const struct sockaddr_in nowhere = {.sin_family = AF_INET};
    int pair[2];
    if (socketpair(AF_UNIX, SOCK_STREAM, 0, pair)) {
        abort();
    }
    if (MHD_add_connection(server->daemon, pair[1], (const struct sockaddr *)&nowhere,
                           sizeof nowhere) != MHD_YES) {
        abort();
    }
    for (size_t sent = 0; sent < size;) {
        ssize_t more =
            send(pair[0], (const char *)bytes + sent, size - sent, MSG_NOSIGNAL | MSG_DONTWAIT);
        sent += more > 0 ? (size_t)more : 0;
        if (more <= 0) {
            break;
        }
    }
    shutdown(pair[0], SHUT_WR);
    return pair[0];
}

static void step(struct live_server *server, struct live_feed *feed, int line)
{
    char answer[4096];
    for (int i = 0; i < STEPS; i++) {
        live_feed_publish(feed, LIVE_STATE, live_blob_make("{}", 2));
        live_server_step(server, 0);
        while (recv(line, answer, sizeof answer, MSG_DONTWAIT) > 0) {
        }
    }
}

static void check_alive(struct live_server *server)
{
    static const char ask[] = "GET /key2-key2-key2/state HTTP/1.1\r\nHost: localhost\r\n\r\n";
    char answer[256] = "";
    int line = connect_with(server, ask, sizeof ask - 1);
    for (int i = 0; i < STEPS && !answer[0]; i++) {
        live_server_step(server, 0);
        recv(line, answer, sizeof answer - 1, MSG_DONTWAIT);
    }
    if (strncmp(answer, "HTTP/1.1 200", 12) != 0) {
        abort();
    }
    close(line);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct live_hooks hooks = {NULL, want, look_at, look_at, looked, is_done};
    const struct live_address address = {.own = false};
    struct live_feed feed = {0};
    struct live_server *server = calloc(1, sizeof *server);
    struct error err = {0};
    const struct live_site site = {&feed, &hooks, &address, "key2-key2-key2"};
    if (size <= MOST_INPUT && server && live_feed_open(&feed, &err) == 0 &&
        live_server_prepare(server, &site, &err) == 0) {
        int line = connect_with(server, data, size);
        step(server, &feed, line);
        check_alive(server);
        close(line);
        live_server_stop(server);
    }
    live_feed_close(&feed);
    free(server);
    return 0;
}
