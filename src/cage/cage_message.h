/* cage/cage_message.h: what a reader of pictures and a worker of the cage say to each other, over a
 * pair of sockets. Both are the same program, split in two: what is constant in it stands at the
 * same place in both, structures are sent as they lie in memory. */
#ifndef ALIDADE_CAGE_CAGE_MESSAGE_H
#define ALIDADE_CAGE_CAGE_MESSAGE_H

#include "image/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* To a worker: read this. Followed by the name, with its end, and the bytes, if there are any. */
struct cage_wish {
    struct frame_options options; /* its reader is NULL */
    size_t name_size;
    bool in_memory;
    size_t size; /* of the bytes */
};

/* From a worker. Pointers into its memory stand in the frame: what is asked for next. */
struct cage_answer {
    int code;
    struct error err;
    struct frame frame; /* if code is 0 */
};

/* To a worker: send so many bytes of yours; 0 bytes: no more, the frame can go. */
struct cage_ask {
    const void *from;
    size_t size;
};

/* A pair of connected sockets of that kind, closed when another program is run, whose numbers are
 * none of the standard streams', though these may be closed. False: see errno. */
bool cage_pair(int pair[2], int kind);

/* All of it, or false: the other side is gone, or, with EAGAIN in errno, has not said anything for
 * as long as the socket waits. */
bool cage_send(int socket, const void *bytes, size_t size);
bool cage_receive(int socket, void *bytes, size_t size);

/* A number, and a file descriptor unless it is below 0, in one message over a socket of packets. */
bool cage_pass(int socket, long number, int descriptor);
/* Inverse; *descriptor is -1 if none came along. */
bool cage_take(int socket, long *number, int *descriptor);

#endif
