/* page/live_files.h: the files that the page is made of, which are built into the program. */
#ifndef ALIDADE_PAGE_LIVE_FILES_H
#define ALIDADE_PAGE_LIVE_FILES_H

#include <stddef.h>

struct live_file {
    const char *name; /* "live.css"; "": the page itself */
    const char *type; /* of media */
    const unsigned char *bytes;
    size_t size;
};

/* NULL: there is none of that name. */
const struct live_file *live_files_find(const char *name);

#endif
