#include "page/live_files.h"

#include <string.h>

/* The Makefile writes these, numbers with commas, from the files of their names. */
static const unsigned char html[] = {
#include "live.html.inc"
};
static const unsigned char css[] = {
#include "live.css.inc"
};
static const unsigned char js[] = {
#include "live.js.inc"
};

static const struct live_file files[] = {
    {"", "text/html; charset=utf-8", html, sizeof html},
    {"live.css", "text/css; charset=utf-8", css, sizeof css},
    {"live.js", "text/javascript; charset=utf-8", js, sizeof js},
};

const struct live_file *live_files_find(const char *name)
{
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        if (strcmp(files[i].name, name) == 0) {
            return &files[i];
        }
    }
    return NULL;
}
