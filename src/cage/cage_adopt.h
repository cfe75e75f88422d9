/* cage/cage_adopt.h: a frame out of a worker's memory becomes one of this process. */
#ifndef ALIDADE_CAGE_CAGE_ADOPT_H
#define ALIDADE_CAGE_CAGE_ADOPT_H

#include "image/frame.h"

#include <stdbool.h>
#include <sys/types.h>

struct cage_way {
    int socket;
    pid_t worker;
};

/* far is the frame with pointers into the worker's memory, which is not believed more than a file
 * is: sizes, texts and pointers are checked. The worker is told when it can let go of it. *lives
 * becomes false if the worker died meanwhile, or sent what no frame can be. ERROR_MEMORY,
 * ERROR_INPUT; the frame is empty then. */
int cage_adopt(struct frame *frame, const struct frame *far, const struct cage_way *way,
               bool *lives, struct error *err);

#endif
