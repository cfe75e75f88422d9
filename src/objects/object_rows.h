/* objects/object_rows.h: tables that add to what objects.tsv says of an object. */
#ifndef ALIDADE_OBJECTS_OBJECT_ROWS_H
#define ALIDADE_OBJECTS_OBJECT_ROWS_H

#include "base/error.h"
#include "base/table.h"
#include "objects/object.h"

#include <stdbool.h>

/* Where a table is that has its rows in the order of objects.tsv. Starts with at = 0. */
struct object_cursor {
    struct objects *objects;
    int at;
};

/* The deep-sky object of that id, from where the last one was found on, then from the start; NULL
 * if there is none. */
struct object *object_cursor_seek(struct object_cursor *cursor, const struct table_cell *id);

/* Whether the folder has such a file: these tables may be missing. */
bool object_rows_present(const char *folder, const char *file);

/* Takes magnitudes, sizes and angles from ngc.tsv in the folder, if it is there: they go before
 * those of objects.tsv. ERROR_INPUT naming file and line. */
int object_rows_load_ngc(struct objects *objects, const char *folder, struct error *err);

#endif
