#include "cage/cage_worker.h"

#include "base/large.h"
#include "cage/cage_message.h"
#include "cage/cage_walls.h"

#include <stdlib.h>
#include <string.h>

/* A wish as it came, with its name and bytes. */
struct errand {
    struct cage_wish wish;
    char *name;
    unsigned char *bytes;
};

static bool receive_errand(struct errand *errand, int socket)
{
    memset(errand, 0, sizeof *errand);
    if (!cage_receive(socket, &errand->wish, sizeof errand->wish)) {
        return false;
    }
    errand->name = malloc(errand->wish.name_size);
    errand->bytes = errand->wish.in_memory ? malloc(errand->wish.size) : NULL;
    return errand->name && cage_receive(socket, errand->name, errand->wish.name_size) &&
           (!errand->wish.in_memory ||
            (errand->bytes && cage_receive(socket, errand->bytes, errand->wish.size)));
}

/* What is asked for of the frame, until that is nothing. */
static bool send_parts(int socket)
{
    struct cage_ask ask;
    while (cage_receive(socket, &ask, sizeof ask)) {
        if (ask.size == 0) {
            return true;
        }
        if (!cage_send(socket, ask.from, ask.size)) {
            return false;
        }
    }
    return false;
}

static bool run_errand(const struct errand *errand, int socket, const struct cage_limits *limits)
{
    struct cage_answer answer;
    struct picture_source source = {
        .name = errand->name, .bytes = errand->bytes, .size = errand->wish.size};
    memset(&answer, 0, sizeof answer);
    cage_walls_limit_time(limits->seconds);
    answer.code = limits->read(&answer.frame, &source, &errand->wish.options, &answer.err);
    bool lives = cage_send(socket, &answer, sizeof answer) && (answer.code || send_parts(socket));
    frame_free(&answer.frame);
    return lives;
}

void cage_worker_run(int socket, const struct cage_limits *limits)
{
    struct errand errand;
    bool lives = true;
    cage_walls_limit_memory(limits->memory_mb);
    large_keep(); /* one picture after the other goes into the same pages */
    cage_walls_raise();
    while (lives) {
        lives = receive_errand(&errand, socket) && run_errand(&errand, socket, limits);
        free(errand.name);
        free(errand.bytes);
    }
}
