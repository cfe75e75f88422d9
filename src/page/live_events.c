#include "page/live_events.h"

#include "base/stopwatch.h"
#include "page/live_answer.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double beat_s = 5, patience_s = 60;
static const char tail[] = "}\n\n";

static void forget(void *context)
{
    struct live_event *event = context;
    struct live_events *all = event->all;
    for (int i = 0; i < all->count; i++) {
        if (all->event[i] == event) {
            all->event[i] = all->event[--all->count];
            break;
        }
    }
    atomic_fetch_sub(&all->feed->lookers, 1);
    live_blob_drop(event->blob);
    free(event);
}

/* The topic of which there is something that was not told; LIVE_TOPICS: none. */
static enum live_topic find_news(const struct live_event *event)
{
    enum live_topic topic = LIVE_STATE;
    while (topic < LIVE_TOPICS && live_feed_number(event->all->feed, topic) == event->told[topic]) {
        topic++;
    }
    return topic;
}

static bool is_due(const struct live_event *event)
{
    return find_news(event) < LIVE_TOPICS || stopwatch_s() - event->spoke_s >= beat_s;
}

static double age_s(const struct live_blob *blob)
{
    return blob ? stopwatch_s() - blob->made_s : 0;
}

/* A page that has the state already is told how old it is; of pictures, that there is a new one. */
static void write_message(struct live_event *event)
{
    static const char *const names[LIVE_TOPICS] = {"state", "picture", "glimpse"};
    enum live_topic topic = find_news(event);
    struct live_blob *blob = live_feed_take(event->all->feed, LIVE_STATE);
    if (topic == LIVE_STATE && blob) {
        event->blob = blob;
        event->told[topic] = blob->number;
        snprintf(event->head, sizeof event->head,
                 "id: %s-%ld\nevent: state\ndata: {\"age_s\": %.2f, \"state\": ", event->all->run,
                 blob->number, age_s(blob));
    } else if (topic < LIVE_TOPICS && topic > LIVE_STATE) {
        event->told[topic] = live_feed_number(event->all->feed, topic);
        snprintf(event->head, sizeof event->head, "event: %s\ndata: {\"number\": %ld}\n\n",
                 names[topic], event->told[topic]);
    } else {
        snprintf(event->head, sizeof event->head, "event: beat\ndata: {\"age_s\": %.2f}\n\n",
                 age_s(blob));
    }
    if (!event->blob) {
        live_blob_drop(blob);
    }
    event->head_length = strlen(event->head);
    event->at = 0;
    event->spoke_s = stopwatch_s();
    *event->deadline_s = event->spoke_s + patience_s;
}

/* Copies what fits of a part of the message that begins at start. */
static size_t copy_part(char *out, size_t room, struct live_event *event, size_t start,
                        const void *bytes, size_t size)
{
    if (event->at < start || event->at >= start + size) {
        return 0;
    }
    size_t from = event->at - start;
    size_t copied = size - from < room ? size - from : room;
    memcpy(out, (const char *)bytes + from, copied);
    event->at += copied;
    return copied;
}

static size_t copy_message(char *out, size_t most, struct live_event *event)
{
    size_t body = event->blob ? event->blob->size : 0;
    size_t end = event->blob ? sizeof tail - 1 : 0;
    size_t done = copy_part(out, most, event, 0, event->head, event->head_length);
    if (event->blob) {
        done +=
            copy_part(out + done, most - done, event, event->head_length, event->blob->bytes, body);
        done += copy_part(out + done, most - done, event, event->head_length + body, tail, end);
    }
    if (event->at == event->head_length + body + end) {
        live_blob_drop(event->blob);
        event->blob = NULL;
        event->head_length = 0;
        *event->deadline_s = 0;
    }
    return done;
}

static ssize_t read_event(void *context, uint64_t at, char *out, size_t most)
{
    struct live_event *event = context;
    (void)at;
    if (event->all->ended) {
        return MHD_CONTENT_READER_END_OF_STREAM;
    }
    if (!event->head_length && is_due(event)) {
        write_message(event);
    }
    if (event->head_length) {
        return (ssize_t)copy_message(out, most, event);
    }
    event->waits = true;
    MHD_suspend_connection(event->connection);
    return 0;
}

/* What a page that comes back has seen last. */
static void recall(struct live_event *event)
{
    const char *id =
        MHD_lookup_connection_value(event->connection, MHD_HEADER_KIND, "Last-Event-ID");
    size_t length = strlen(event->all->run);
    if (id && strncmp(id, event->all->run, length) == 0 && id[length] == '-') {
        event->told[LIVE_STATE] = strtol(id + length + 1, NULL, 10);
    }
}

enum MHD_Result live_events_begin(struct live_events *all, struct MHD_Connection *connection,
                                  double *deadline_s)
{
    const size_t block = 16384;
    struct live_event *event = all->count < LIVE_PAGES ? calloc(1, sizeof *event) : NULL;
    if (!event) {
        return live_answer_error(connection, MHD_HTTP_SERVICE_UNAVAILABLE,
                                 "too many pages are open: close some");
    }
    event->all = all;
    event->connection = connection;
    event->deadline_s = deadline_s;
    recall(event);
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, block, read_event, event, forget);
    if (!response) {
        free(event);
        return MHD_NO;
    }
    all->event[all->count++] = event;
    atomic_fetch_add(&all->feed->lookers, 1);
    return live_answer(connection, MHD_HTTP_OK, "text/event-stream", response);
}

static void go_on(struct live_event *event)
{
    event->waits = false;
    MHD_resume_connection(event->connection);
}

void live_events_go_on(struct live_events *all)
{
    for (int i = 0; i < all->count; i++) {
        if (all->event[i]->waits && is_due(all->event[i])) {
            go_on(all->event[i]);
        }
    }
}

void live_events_end(struct live_events *all)
{
    all->ended = true;
    for (int i = 0; i < all->count; i++) {
        if (all->event[i]->waits) {
            go_on(all->event[i]);
        }
    }
}
