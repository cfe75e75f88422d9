#include "page/live_feed.h"

#include "base/stopwatch.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct live_blob *live_blob_make(const void *bytes, size_t size)
{
    struct live_blob *blob = malloc(sizeof *blob + size);
    if (blob) {
        atomic_init(&blob->users, 1);
        blob->number = 0;
        blob->made_s = stopwatch_s();
        blob->size = size;
        memcpy(blob->bytes, bytes, size);
    }
    return blob;
}

void live_blob_drop(struct live_blob *blob)
{
    if (blob && atomic_fetch_sub(&blob->users, 1) == 1) {
        free(blob);
    }
}

int live_feed_open(struct live_feed *feed, struct error *err)
{
    if (pipe(feed->wake)) {
        feed->wake[0] = feed->wake[1] = 0;
        return error_set(err, ERROR_INPUT, "the page cannot be served: %s", strerror(errno));
    }
    for (int i = 0; i < 2; i++) {
        fcntl(feed->wake[i], F_SETFL, O_NONBLOCK);
        fcntl(feed->wake[i], F_SETFD, FD_CLOEXEC);
    }
    pthread_mutex_init(&feed->lock, NULL);
    return 0;
}

void live_feed_close(struct live_feed *feed)
{
    if (!feed->wake[1]) {
        return;
    }
    for (int topic = 0; topic < LIVE_TOPICS; topic++) {
        live_blob_drop(feed->latest[topic]);
    }
    close(feed->wake[0]);
    close(feed->wake[1]);
    pthread_mutex_destroy(&feed->lock);
    memset(feed, 0, sizeof *feed);
}

void live_feed_publish(struct live_feed *feed, enum live_topic topic, struct live_blob *blob)
{
    if (!blob) {
        return;
    }
    pthread_mutex_lock(&feed->lock);
    struct live_blob *before = feed->latest[topic];
    blob->number = before ? before->number + 1 : 1;
    feed->latest[topic] = blob;
    pthread_mutex_unlock(&feed->lock);
    live_blob_drop(before);
    live_feed_wake(feed);
}

struct live_blob *live_feed_take(struct live_feed *feed, enum live_topic topic)
{
    pthread_mutex_lock(&feed->lock);
    struct live_blob *blob = feed->latest[topic];
    if (blob) {
        atomic_fetch_add(&blob->users, 1);
    }
    pthread_mutex_unlock(&feed->lock);
    return blob;
}

long live_feed_number(struct live_feed *feed, enum live_topic topic)
{
    pthread_mutex_lock(&feed->lock);
    long number = feed->latest[topic] ? feed->latest[topic]->number : 0;
    pthread_mutex_unlock(&feed->lock);
    return number;
}

void live_feed_wake(const struct live_feed *feed)
{
    ssize_t ignored = write(feed->wake[1], "", 1); /* a full pipe will be read anyway */
    (void)ignored;
}

void live_feed_drain(const struct live_feed *feed)
{
    char bytes[256];
    while (read(feed->wake[0], bytes, sizeof bytes) > 0) {
    }
}
