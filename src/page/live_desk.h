/* page/live_desk.h: what the server keeps of its connections and of requests at work. */
#ifndef ALIDADE_PAGE_LIVE_DESK_H
#define ALIDADE_PAGE_LIVE_DESK_H

#include "page/live_events.h"
#include "page/live_site.h"

#include <microhttpd.h>
#include <stdbool.h>
#include <stddef.h>

struct live_route;

/* A connection of the server, as long as it lives. */
struct live_line {
    int socket;
    double deadline_s; /* when it is cut, on stopwatch_s; 0: never */
};

/* What the handler works with. */
struct live_desk {
    const struct live_site *site;
    struct live_events events;
    struct live_request *waiting[LIVE_TASKS]; /* whose tasks are at work */
    long requests;                            /* ever */
};

struct live_request {
    const struct live_route *route; /* NULL: refused */
    struct MHD_PostProcessor *post; /* of a form */
    struct live_form form;
    size_t received, capacity;
    bool too_large; /* the form, or a field of it */
    bool waits;     /* for its task; the connection is suspended */
    bool asked;     /* the task was given */
    double begun_s; /* on stopwatch_s */
    struct MHD_Connection *connection;
    struct live_task task;
};

#endif
