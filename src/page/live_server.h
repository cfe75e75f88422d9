/* page/live_server.h: the thread that answers all requests (RFC 9112, through libmicrohttpd). */
#ifndef ALIDADE_PAGE_LIVE_SERVER_H
#define ALIDADE_PAGE_LIVE_SERVER_H

#include "page/live_request.h"

#include <pthread.h>
#include <stdatomic.h>

enum { LIVE_CONNECTIONS = 256 };

/* Starts as all zeros. */
struct live_server {
    struct live_desk desk;
    struct live_line line[LIVE_CONNECTIONS];
    struct MHD_Daemon *daemon;
    int socket; /* that listens */
    pthread_t thread;
    bool running;
    atomic_bool stop;
    double second; /* the one that requests are counted in, on stopwatch_s */
    long before;   /* requests until it began */
};

/* Listens at the site's address and answers on a thread of its own, which gives way to all others.
 * What is asked of it is bounded: connections, requests a second, bytes and time of each.
 * ERROR_USAGE where the address cannot be listened at, ERROR_MEMORY. Inverse: live_server_stop. */
int live_server_start(struct live_server *server, const struct live_site *site, struct error *err);
/* Ends all connections. Tasks must be done, or their worker stopped, before. */
void live_server_stop(struct live_server *server);

/* The same without a thread and without a socket that listens: for connections that are handed
 * over, of tests; and one step of it, which waits so long at most for something to do. (select: of
 * epoll libmicrohttpd 0.9.75 misses that the other side has closed while half a request is read.)
 */
int live_server_prepare(struct live_server *server, const struct live_site *site,
                        struct error *err);
void live_server_step(struct live_server *server, int most_ms);

#endif
