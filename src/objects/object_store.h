/* objects/object_store.h: what struct objects keeps to itself. */
#ifndef ALIDADE_OBJECTS_OBJECT_STORE_H
#define ALIDADE_OBJECTS_OBJECT_STORE_H

#include "objects/name_key.h"
#include "objects/numbered_star.h"
#include "objects/outline.h"

#include <stdatomic.h>
#include <stddef.h>

/* Texts in blocks that never move. Starts as all zeros. */
struct text_block {
    struct text_block *next;
    size_t used, size;
    char text[];
};

struct object_store {
    struct text_block *texts;
    struct outline *outlines;
    struct name_endings endings;
    _Atomic(char *) keys; /* of all names, one behind the other; made by name_walk.c */
    char folder[4096];             /* that all was read from */
    struct numbered_star numbered; /* the last that was looked up */
};

#endif
