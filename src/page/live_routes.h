/* page/live_routes.h: what there is to be asked for. */
#ifndef ALIDADE_PAGE_LIVE_ROUTES_H
#define ALIDADE_PAGE_LIVE_ROUTES_H

#include "page/live_desk.h"

/* A path below the page's own. */
struct live_route {
    const char *name;
    bool posts;        /* it is asked for by POST, with a form; else by GET */
    size_t most_bytes; /* of the form */
    /* Answers when all of the request is there. */
    enum MHD_Result (*answer)(struct live_desk *desk, struct live_request *request,
                              struct live_line *line);
};

/* NULL: there is nothing of that name. */
const struct live_route *live_routes_find(const char *name, bool posts);

#endif
