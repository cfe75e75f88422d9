/* page/live_request.h: one request, from its first line to its answer. */
#ifndef ALIDADE_PAGE_LIVE_REQUEST_H
#define ALIDADE_PAGE_LIVE_REQUEST_H

#include "page/live_desk.h"

#include <microhttpd.h>
#include <stddef.h>

/* An MHD_AccessHandlerCallback, whose context is the desk, and the callback for what is through.
 * The line must be the socket context of the connection. */
enum MHD_Result live_request_handle(void *desk, struct MHD_Connection *connection, const char *url,
                                    const char *method, const char *version, const char *data,
                                    size_t *size, void **request);
void live_request_end(void *desk, struct MHD_Connection *connection, void **request,
                      enum MHD_RequestTerminationCode code);

/* Goes on with requests whose tasks are done. */
void live_request_go_on(struct live_desk *desk);

#endif
