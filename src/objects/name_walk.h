/* objects/name_walk.h: all names of all objects, one by one. */
#ifndef ALIDADE_OBJECTS_NAME_WALK_H
#define ALIDADE_OBJECTS_NAME_WALK_H

#include "objects/name_key.h"
#include "objects/objects.h"

#include <stdbool.h>

enum name_list { NAME_LIST_ID, NAME_LIST_OTHER, NAME_LIST_COMMON, NAME_LISTS };

struct name_walk {
    const struct object *object; /* whose name it is */
    enum name_list list;         /* where it stands */
    char name[80];
    char key[NAME_KEY_SIZE]; /* of name_key */
    struct {
        const struct objects *objects;
        int number;          /* of the object that the next name may be of */
        enum name_list list; /* and where it may stand */
        const char *text;    /* what is left of that list; NULL: all */
        const char *keys;    /* of the names from the next one on; NULL: not at hand */
    } next;                  /* kept to itself */
};

/* Before the first name of tables that were loaded. The keys of all names are made once and kept
 * with the tables, if there is memory for them; several threads may walk at once. */
void name_walk_begin(struct name_walk *walk, const struct objects *objects);

/* On to the next name; false when there are no more. */
bool name_walk_next(struct name_walk *walk);

#endif
