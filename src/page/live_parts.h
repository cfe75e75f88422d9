/* page/live_parts.h: the parts of a live page. */
#ifndef ALIDADE_PAGE_LIVE_PARTS_H
#define ALIDADE_PAGE_LIVE_PARTS_H

#include "page/live.h"
#include "page/live_server.h"
#include "page/live_state.h"

/* What the camera and its field are, for a plan; of the latest solved frame. */
struct live_gear {
    bool known;
    double focal_mm, pixel_um, width_mm, height_mm, f_number;
    bool has_time;
    struct utc when;
};

struct live {
    const struct live_wish *wish;
    struct live_address address;
    char key[LIVE_KEY_SIZE], url[LIVE_HOST_SIZE + LIVE_KEY_SIZE + 16];
    struct live_feed feed;
    struct live_worker worker;
    struct live_server server;
    struct live_hooks hooks;
    struct live_site site;

    pthread_mutex_t lock; /* guards what follows */
    struct live_state state;
    struct aim_wish aim; /* as in the watch */
    struct live_gear gear;
    double glimpse_s;   /* when the latest picture of the stack was made, on stopwatch_s */
    char *latest;       /* path of the latest frame; owned */
    bool latest_is_new; /* of which there is no small picture yet */
};

/* Members of struct live_hooks; each is called with the page for its context. */
bool live_hooks_want(void *live, const struct live_form *form, struct error *err);
bool live_hooks_look_at(void *live, struct live_task *task);
bool live_hooks_others(void *live, struct live_task *task);

/* With the lock: publishes how things stand. */
void live_publish(struct live *live);

#endif
