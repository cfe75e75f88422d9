#include "page/live_server.h"

#include "base/stopwatch.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/select.h>
#include <time.h>
#include <unistd.h>

static const double idle_s = 20;       /* for the first lines of a request */
static const long most_requests = 400; /* a second, of all pages together */
enum {
    CONNECTION_BYTES = 32768, /* that a connection may take, headers included */
    TIMEOUT_S = 15,           /* without a byte either way */
    LONGEST_WAIT_MS = 500
};

static void note_connection(void *context, struct MHD_Connection *connection, void **socket_context,
                            enum MHD_ConnectionNotificationCode code)
{
    struct live_server *server = context;
    struct live_line *line = *socket_context;
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        if (line) {
            *line = (struct live_line){.socket = -1};
        }
        return;
    }
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    for (int i = 0; info && !line && i < LIVE_CONNECTIONS; i++) {
        line = server->line[i].socket < 0 ? &server->line[i] : NULL;
    }
    if (line) {
        *line = (struct live_line){info->connect_fd, stopwatch_s() + idle_s};
    }
    *socket_context = line;
}

/* Whoever is slower than need be: half a request, an answer that is not read. */
static void cut_late(const struct live_server *server)
{
    double now = stopwatch_s();
    for (int i = 0; i < LIVE_CONNECTIONS; i++) {
        const struct live_line *line = &server->line[i];
        if (line->socket >= 0 && line->deadline_s > 0 && now > line->deadline_s) {
            shutdown(line->socket, SHUT_RDWR);
        }
    }
}

/* A flood is answered no faster than this, and the rest of the computer does not notice it. */
static void slow_down(struct live_server *server)
{
    const struct timespec breath = {.tv_nsec = 20000000};
    double now = stopwatch_s();
    if (now - server->second >= 1) {
        server->second = now;
        server->before = server->desk.requests;
    } else if (server->desk.requests - server->before > most_requests) {
        nanosleep(&breath, NULL);
    }
}

void live_server_step(struct live_server *server, int most_ms)
{
    int wake = server->desk.site->feed->wake[0], highest = wake;
    MHD_UNSIGNED_LONG_LONG timeout;
    fd_set in, out, odd;
    FD_ZERO(&in);
    FD_ZERO(&out);
    FD_ZERO(&odd);
    live_events_go_on(&server->desk.events);
    live_request_go_on(&server->desk);
    if (MHD_get_fdset(server->daemon, &in, &out, &odd, &highest) != MHD_YES) {
        return;
    }
    FD_SET(wake, &in);
    if (MHD_get_timeout(server->daemon, &timeout) == MHD_YES &&
        timeout < (MHD_UNSIGNED_LONG_LONG)most_ms) {
        most_ms = (int)timeout;
    }
    struct timeval wait = {most_ms / 1000, most_ms % 1000 * 1000};
    if (select((highest > wake ? highest : wake) + 1, &in, &out, &odd, &wait) >= 0) {
        if (FD_ISSET(wake, &in)) {
            live_feed_drain(server->desk.site->feed);
        }
        MHD_run_from_select(server->daemon, &in, &out, &odd);
    }
    cut_late(server);
    slow_down(server);
}

static void *serve(void *context)
{
    struct live_server *server = context;
    live_worker_be_humble();
    while (!atomic_load(&server->stop)) {
        live_server_step(server, LONGEST_WAIT_MS);
    }
    return NULL;
}

static int start_daemon(struct live_server *server, const struct live_site *site, unsigned flags,
                        int listening, struct error *err)
{
    server->desk.site = site;
    server->desk.events.feed = site->feed;
    snprintf(server->desk.events.run, sizeof server->desk.events.run, "%.0f", stopwatch_ms());
    for (int i = 0; i < LIVE_CONNECTIONS; i++) {
        server->line[i].socket = -1;
    }
    struct MHD_OptionItem own[] = {
        {MHD_OPTION_NOTIFY_COMPLETED, (intptr_t)live_request_end, &server->desk},
        {MHD_OPTION_NOTIFY_CONNECTION, (intptr_t)note_connection, server},
        {MHD_OPTION_CONNECTION_LIMIT, LIVE_CONNECTIONS, NULL},
        {MHD_OPTION_CONNECTION_TIMEOUT, TIMEOUT_S, NULL},
        {MHD_OPTION_CONNECTION_MEMORY_LIMIT, CONNECTION_BYTES, NULL},
        {MHD_OPTION_STRICT_FOR_CLIENT, 1, NULL},
        {listening >= 0 ? MHD_OPTION_LISTEN_SOCKET : MHD_OPTION_END, listening, NULL},
        {MHD_OPTION_END, 0, NULL}};
    server->daemon =
        MHD_start_daemon(flags | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, live_request_handle,
                         &server->desk, MHD_OPTION_ARRAY, own, MHD_OPTION_END);
    return server->daemon ? 0 : error_set(err, ERROR_MEMORY, "the page cannot be served");
}

/* A socket that listens at the address; -1, with errno. */
static int listen_at(const struct live_address *address)
{
    const int yes = 1, waiting = 64;
    int listening = socket(address->where.ss_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (listening < 0) {
        return -1;
    }
    setsockopt(listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(listening, (const struct sockaddr *)&address->where, address->size) ||
        listen(listening, waiting)) {
        int number = errno;
        close(listening);
        errno = number;
        return -1;
    }
    return listening;
}

int live_server_prepare(struct live_server *server, const struct live_site *site, struct error *err)
{
    return start_daemon(server, site, MHD_USE_NO_LISTEN_SOCKET, -1, err);
}

int live_server_start(struct live_server *server, const struct live_site *site, struct error *err)
{
    server->socket = listen_at(site->address);
    if (server->socket < 0) {
        return error_set(err, ERROR_USAGE,
                         "--page: cannot listen there: %s; name another ADDRESS:PORT",
                         strerror(errno));
    }
    int code = start_daemon(server, site, MHD_NO_FLAG, server->socket, err);
    if (code) {
        close(server->socket);
        return code;
    }
    atomic_init(&server->stop, false);
    if (pthread_create(&server->thread, NULL, serve, server)) {
        MHD_stop_daemon(server->daemon);
        server->daemon = NULL;
        return error_memory(err);
    }
    server->running = true;
    return 0;
}

void live_server_stop(struct live_server *server)
{
    if (server->running) {
        atomic_store(&server->stop, true);
        live_feed_wake(server->desk.site->feed);
        pthread_join(server->thread, NULL);
    }
    if (server->daemon) {
        live_events_end(&server->desk.events);
        live_server_step(server, 0);
        MHD_stop_daemon(server->daemon);
    }
    memset(server, 0, sizeof *server);
}
