/* page/live_answer.h: answers to requests, with what browsers are to be strict about. */
#ifndef ALIDADE_PAGE_LIVE_ANSWER_H
#define ALIDADE_PAGE_LIVE_ANSWER_H

#include "page/live_feed.h"

#include <microhttpd.h>
#include <stddef.h>

/* Bytes that stay where they are. */
enum MHD_Result live_answer_static(struct MHD_Connection *connection, const char *type,
                                   const void *bytes, size_t size);
/* A user's share of a blob, which is given up when it is sent; NULL: there is nothing yet. */
enum MHD_Result live_answer_blob(struct MHD_Connection *connection, const char *type,
                                 struct live_blob *blob);
/* A copy of a text of JSON. */
enum MHD_Result live_answer_json(struct MHD_Connection *connection, unsigned status,
                                 const char *text, size_t length);
/* {"error": "..."} for what cannot be answered, with a status of HTTP from 400 on. */
enum MHD_Result live_answer_error(struct MHD_Connection *connection, unsigned status,
                                  const char *sentence);
/* Sends the browser to the same path below name. */
enum MHD_Result live_answer_elsewhere(struct MHD_Connection *connection, const char *name);
/* Any other response; it is given up. */
enum MHD_Result live_answer(struct MHD_Connection *connection, unsigned status, const char *type,
                            struct MHD_Response *response);

#endif
