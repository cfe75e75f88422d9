#include "base/utf8.h"

#include <glib.h>
#include <string.h>

/* browser_letters.js. */
char *capitals_of(const char *text);

bool g_utf8_validate(const char *text, long length, const char **end)
{
    (void)length;
    (void)end;
    while (*text) {
        size_t bytes = utf8_length(text);
        if (bytes == 0) {
            return false;
        }
        text += bytes;
    }
    return true;
}

char *g_utf8_strup(const char *text, long length)
{
    (void)length;
    return capitals_of(text);
}
