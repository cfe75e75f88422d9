/* base/path.h: folders and names. */
#ifndef ALIDADE_BASE_PATH_H
#define ALIDADE_BASE_PATH_H

/* What follows the last slash; the whole of it if there is none. */
const char *path_base(const char *path);

/* "folder/name", with one slash between them. NULL when memory is short; the caller frees it. */
char *path_join(const char *folder, const char *name);

#endif
