/* base/path.h: folders and names. */
#ifndef ALIDADE_BASE_PATH_H
#define ALIDADE_BASE_PATH_H

#include <stdbool.h>

/* What follows the last slash; the whole of it if there is none. */
const char *path_base(const char *path);

/* How many names at the end two paths have in common, the last one included: 2 for "a/b/c" and
 * "./b/c". "." and ".." at the head of a path say nothing, nor does "." elsewhere. */
int path_common_tail(const char *a, const char *b);
/* Whether two paths may be of one place, seen from different folders: one is the end of the other,
 * or they are equal. Two absolute ones must be equal. */
bool path_may_be_same(const char *a, const char *b);

/* "folder/name", with one slash between them. NULL when memory is short; the caller frees it. */
char *path_join(const char *folder, const char *name);

#endif
