/* page/live_feed.h: what all pages show now, between who makes it and who hands it out.
 *
 * Whoever publishes holds the lock for as long as it takes to exchange a pointer, and so does
 * whoever takes: nobody waits for a slow reader. */
#ifndef ALIDADE_PAGE_LIVE_FEED_H
#define ALIDADE_PAGE_LIVE_FEED_H

#include "base/error.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stddef.h>

/* Bytes that do not change any more, shared by all that have taken them. */
struct live_blob {
    atomic_int users;
    long number;   /* rises with each one that is published */
    double made_s; /* on stopwatch_s */
    size_t size;
    unsigned char bytes[];
};

/* A copy of the bytes, for one user; NULL when memory is short. Inverse: live_blob_drop. */
struct live_blob *live_blob_make(const void *bytes, size_t size);
/* NULL is accepted. */
void live_blob_drop(struct live_blob *blob);

enum live_topic { LIVE_STATE, LIVE_PICTURE, LIVE_GLIMPSE, LIVE_TOPICS };

struct live_feed {
    pthread_mutex_t lock;
    struct live_blob *latest[LIVE_TOPICS]; /* NULL: nothing yet */
    atomic_int lookers;                    /* pages that are told of what is new */
    int wake[2];                           /* a byte comes out of [0] for what is new */
};

/* ERROR_INPUT if the system has no pipe left. Inverse: live_feed_close, which accepts one that is
 * all zeros. */
int live_feed_open(struct live_feed *feed, struct error *err);
void live_feed_close(struct live_feed *feed);

/* Takes the blob over, which then is what is shown; NULL is accepted and changes nothing. */
void live_feed_publish(struct live_feed *feed, enum live_topic topic, struct live_blob *blob);

/* What is shown, for one more user; NULL: nothing yet. Inverse: live_blob_drop. */
struct live_blob *live_feed_take(struct live_feed *feed, enum live_topic topic);

/* The number of what is shown; 0: nothing yet. */
long live_feed_number(struct live_feed *feed, enum live_topic topic);

/* Has whoever waits for the pipe look; never blocks. */
void live_feed_wake(const struct live_feed *feed);
/* Empties the pipe. */
void live_feed_drain(const struct live_feed *feed);

#endif
