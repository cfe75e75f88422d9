/* page/live_site.h: what a request may ask of the page, and what the answer is made of. */
#ifndef ALIDADE_PAGE_LIVE_SITE_H
#define ALIDADE_PAGE_LIVE_SITE_H

#include "page/live_address.h"
#include "page/live_feed.h"
#include "page/live_key.h"
#include "page/live_worker.h"

#include <stdbool.h>

enum {
    LIVE_FORM_TEXT = 120,
    LIVE_UPLOAD_BYTES = 64 << 20, /* of a picture */
    LIVE_FORM_BYTES = 4096,       /* of a form without one */
    LIVE_PAGES = 128              /* that are told of each frame */
};

/* What a form says; "" for what it does not. */
struct live_form {
    char target[LIVE_FORM_TEXT], batch[LIVE_FORM_TEXT], hours[LIVE_FORM_TEXT];
};

/* What the page does for those who look at it; called on the thread of the server. */
struct live_hooks {
    void *context;
    /* Changes what is wanted. False, with a sentence, for what cannot be. */
    bool (*want)(void *context, const struct live_form *form, struct error *err);
    /* Makes a task of a picture that was sent, which is in task, or of the question what else is
     * up; false if it cannot be done now. */
    bool (*look_at)(void *context, struct live_task *task);
    bool (*others)(void *context, struct live_task *task);
    /* A page has begun to look. */
    void (*looked)(void *context);
    bool (*is_done)(void *context, const struct live_task *task);
};

/* All borrowed. */
struct live_site {
    struct live_feed *feed;
    const struct live_hooks *hooks;
    const struct live_address *address;
    const char *key; /* ""; none is needed */
};

#endif
