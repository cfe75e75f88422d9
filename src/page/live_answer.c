#include "page/live_answer.h"

#include "base/json.h"

#include <string.h>

/* Nothing from outside, no frame around the page, nothing kept, no guess of a type, and no word to
 * others of the address, which holds the key. */
static const char *const headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
     "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "DENY"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Permissions-Policy", "camera=(), geolocation=(), microphone=()"},
    {"Cache-Control", "no-store"},
};

enum MHD_Result live_answer(struct MHD_Connection *connection, unsigned status, const char *type,
                            struct MHD_Response *response)
{
    enum MHD_Result result = MHD_NO;
    if (response) {
        MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
        for (size_t i = 0; i < sizeof headers / sizeof *headers; i++) {
            MHD_add_response_header(response, headers[i][0], headers[i][1]);
        }
        result = MHD_queue_response(connection, status, response);
        MHD_destroy_response(response);
    }
    return result;
}

enum MHD_Result live_answer_static(struct MHD_Connection *connection, const char *type,
                                   const void *bytes, size_t size)
{
    return live_answer(
        connection, MHD_HTTP_OK, type,
        MHD_create_response_from_buffer(size, (void *)bytes, MHD_RESPMEM_PERSISTENT));
}

static ssize_t read_blob(void *context, uint64_t at, char *out, size_t most)
{
    const struct live_blob *blob = context;
    size_t left = blob->size - (size_t)at;
    size_t size = left < most ? left : most;
    memcpy(out, blob->bytes + at, size);
    return (ssize_t)size;
}

static void drop_blob(void *context)
{
    live_blob_drop(context);
}

enum MHD_Result live_answer_blob(struct MHD_Connection *connection, const char *type,
                                 struct live_blob *blob)
{
    const size_t block = 16384;
    if (!blob) {
        return live_answer_error(connection, MHD_HTTP_NOT_FOUND, "there is nothing yet");
    }
    struct MHD_Response *response =
        MHD_create_response_from_callback(blob->size, block, read_blob, blob, drop_blob);
    if (!response) {
        live_blob_drop(blob);
    }
    return live_answer(connection, MHD_HTTP_OK, type, response);
}

enum MHD_Result live_answer_json(struct MHD_Connection *connection, unsigned status,
                                 const char *text, size_t length)
{
    return live_answer(
        connection, status, "application/json",
        MHD_create_response_from_buffer(length, (void *)text, MHD_RESPMEM_MUST_COPY));
}

enum MHD_Result live_answer_error(struct MHD_Connection *connection, unsigned status,
                                  const char *sentence)
{
    struct json json = {0};
    json_open(&json, NULL, '{');
    json_string(&json, "error", sentence);
    json_close(&json, '}');
    enum MHD_Result result =
        json.failed ? MHD_NO : live_answer_json(connection, status, json.text, json.length);
    json_free(&json);
    return result;
}

enum MHD_Result live_answer_elsewhere(struct MHD_Connection *connection, const char *name)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, (void *)"", MHD_RESPMEM_PERSISTENT);
    if (response) {
        MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, name);
    }
    return live_answer(connection, MHD_HTTP_FOUND, "text/plain", response);
}
