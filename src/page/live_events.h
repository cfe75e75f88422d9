/* page/live_events.h: pages that are told of each frame (server-sent events, HTML Living Standard
 * section 9.2).
 *
 * Each page is sent the latest there is when it can take it, never what was before: a slow one
 * misses some, and nobody waits for it. */
#ifndef ALIDADE_PAGE_LIVE_EVENTS_H
#define ALIDADE_PAGE_LIVE_EVENTS_H

#include "page/live_site.h"

#include <microhttpd.h>
#include <stdbool.h>

enum { LIVE_EVENT_HEAD = 160, LIVE_RUN_SIZE = 24 };

struct live_events;

struct live_event {
    struct live_events *all;
    struct MHD_Connection *connection;
    double *deadline_s;         /* of the connection, on stopwatch_s; 0: none */
    long told[LIVE_TOPICS];     /* numbers of what was sent */
    double spoke_s;             /* when something was sent last */
    char head[LIVE_EVENT_HEAD]; /* of the message on its way, with its length; then the blob */
    size_t head_length, at;
    struct live_blob *blob;
    bool waits; /* it is suspended */
};

/* Starts as all zeros with feed and run set. For one thread. */
struct live_events {
    struct live_feed *feed;
    char run[LIVE_RUN_SIZE]; /* tells this run from others in the numbers of events */
    struct live_event *event[LIVE_PAGES];
    int count;
    bool ended;
};

/* Answers a request with a stream; *deadline_s is then kept by it. */
enum MHD_Result live_events_begin(struct live_events *all, struct MHD_Connection *connection,
                                  double *deadline_s);

/* Goes on with those for which there is something new, or to which nothing was said for a while. */
void live_events_go_on(struct live_events *all);
/* Goes on with all, which end then. */
void live_events_end(struct live_events *all);

#endif
