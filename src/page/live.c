#include "page/live_parts.h"

#include "base/path.h"
#include "base/text.h"
#include "base/units.h"
#include "draw/thumbnail.h"

#include <stdlib.h>
#include <string.h>

static bool is_done(void *context, const struct live_task *task)
{
    struct live *live = context;
    return live_worker_is_done(&live->worker, task);
}

static void looked(void *context)
{
    live_worker_refresh(&((struct live *)context)->worker);
}

static void tell_server(void *context)
{
    live_feed_wake(&((struct live *)context)->feed);
}

/* A small picture of the latest frame, if a page is there to see it. */
static void refresh_picture(void *context)
{
    struct live *live = context;
    struct thumbnail small = {0};
    struct error err = {0};
    bool seen = atomic_load(&live->feed.lookers) > 0;
    pthread_mutex_lock(&live->lock);
    char *name = seen && live->latest_is_new ? text_copy(live->latest) : NULL;
    live->latest_is_new = live->latest_is_new && !seen;
    pthread_mutex_unlock(&live->lock);
    if (name && !thumbnail_make(&small, name, live->wish->engine->reader, &err) && small.jpeg.size > 0) {
        live_feed_publish(&live->feed, LIVE_PICTURE,
                          live_blob_make(small.jpeg.bytes, small.jpeg.size));
    }
    file_bytes_free(&small.jpeg);
    free(name);
}

static int open_parts(struct live *live, struct error *err)
{
    char host[LIVE_HOST_SIZE];
    int code = live_address_read(&live->address, live->wish->address, err);
    if (!code && !live->address.own) {
        code = live_key_make(live->key, err);
    }
    code = code ? code : live_feed_open(&live->feed, err);
    code = code ? code : live_worker_start(&live->worker, err);
    code = code ? code : live_server_start(&live->server, &live->site, err);
    if (!code) {
        live_address_write_host(host, sizeof host, live->server.socket);
        snprintf(live->url, sizeof live->url, "http://%s/%s%s", host, live->key,
                 live->key[0] ? "/" : "");
    }
    return code;
}

int live_open(struct live **out, const struct live_wish *wish, struct error *err)
{
    struct live *live = *out = calloc(1, sizeof *live);
    if (!live) {
        return error_memory(err);
    }
    const struct night_plan *plan = wish->watch->plan;
    live->wish = wish;
    live->aim = wish->watch->aim;
    live->hooks = (struct live_hooks){.context = live,
                                      .want = live_hooks_want,
                                      .look_at = live_hooks_look_at,
                                      .others = live_hooks_others,
                                      .looked = looked,
                                      .is_done = is_done};
    live->site = (struct live_site){&live->feed, &live->hooks, &live->address, live->key};
    live->worker.refresh = refresh_picture;
    live->worker.told = tell_server;
    live->worker.context = live;
    live->state.wanted_s = plan ? plan->frames * plan->exposure_s : 0;
    live_act_at_start(&live->state.act);
    pthread_mutex_init(&live->lock, NULL);
    int code = open_parts(live, err);
    if (code) {
        live_close(live);
        *out = NULL;
    }
    return code;
}

void live_close(struct live *live)
{
    if (live) {
        live_worker_stop(&live->worker);
        live_server_stop(&live->server);
        live_feed_close(&live->feed);
        live_state_free(&live->state);
        pthread_mutex_destroy(&live->lock);
        free(live->latest);
        free(live);
    }
}

const char *live_url(const struct live *live)
{
    return live->url;
}

bool live_is_shared(const struct live *live)
{
    return !live->address.own;
}

void live_publish(struct live *live)
{
    struct json json = {0};
    struct error err = {0};
    if (live_state_write(&json, &live->state, &err) == 0) {
        live_feed_publish(&live->feed, LIVE_STATE, live_blob_make(json.text, json.length));
    }
    json_free(&json);
}

/* With the lock, on the watch's thread. */
static void settle(struct live *live)
{
    live_state_settle(&live->state);
    live_publish(live);
}

void live_began(struct live *live, const struct watch_session *session)
{
    struct error err = {0};
    pthread_mutex_lock(&live->lock);
    if (live_state_begin(&live->state, session, &err)) {
        live_state_trouble(&live->state, &err);
    }
    settle(live);
    pthread_mutex_unlock(&live->lock);
}

/* A frame that tells no focal length may be of any camera: the usual pixels are as good as others.
 */
static void note_gear(struct live *live, const struct night_frame *frame)
{
    const double usual_pixel_um = 3.7;
    struct live_gear *gear = &live->gear;
    if (!frame->solved) {
        return;
    }
    bool told = frame->focal_mm > 0;
    double per_pixel = frame->scale_arcsec / 3600 * RAD_PER_DEG; /* of the focal length */
    gear->known = true;
    gear->focal_mm = told ? frame->focal_mm : usual_pixel_um / 1000 / per_pixel;
    gear->pixel_um = 1000 * gear->focal_mm * per_pixel;
    gear->f_number = frame->f_number;
    int longer = frame->width > frame->height ? frame->width : frame->height;
    int shorter = frame->width > frame->height ? frame->height : frame->width;
    gear->width_mm = longer * gear->pixel_um / 1000;
    gear->height_mm = shorter * gear->pixel_um / 1000;
}

void live_frame(struct live *live, const struct night_frame *frame, const struct night_step *step)
{
    struct error err = {0};
    char *path = text_copy(frame->name);
    pthread_mutex_lock(&live->lock);
    if (live_state_frame(&live->state, frame, step, &err)) {
        live_state_trouble(&live->state, &err);
    }
    note_gear(live, frame);
    if (path && frame->read) {
        free(live->latest);
        live->latest = path;
        live->latest_is_new = true;
        path = NULL;
    }
    pthread_mutex_unlock(&live->lock);
    free(path);
    live_worker_refresh(&live->worker);
}

void live_alert(struct live *live, const struct alert *alert, const struct night_frame *frame)
{
    pthread_mutex_lock(&live->lock);
    live_state_alert(&live->state, alert);
    if (!frame) { /* else the standing follows */
        settle(live);
    }
    pthread_mutex_unlock(&live->lock);
}

void live_standing(struct live *live, const struct watch_standing *standing)
{
    pthread_mutex_lock(&live->lock);
    live_state_stand(&live->state, standing);
    if (standing->answer) {
        live->gear.has_time = standing->answer->occasion.has_utc;
        live->gear.when = standing->answer->occasion.mid;
    }
    settle(live);
    pthread_mutex_unlock(&live->lock);
}

void live_trouble(struct live *live, const struct error *err)
{
    pthread_mutex_lock(&live->lock);
    live_state_trouble(&live->state, err);
    settle(live);
    pthread_mutex_unlock(&live->lock);
}

bool live_change(struct live *live, struct watch_change *change)
{
    pthread_mutex_lock(&live->lock);
    bool changed = live_state_change(&live->state, change);
    pthread_mutex_unlock(&live->lock);
    return changed;
}
