#include "image/fits_name.h"

#include <stddef.h>
#include <stdio.h>

/* fits_open_diskfile takes no brackets apart, but it skips blanks and looks up the user after "~",
 * and crashes if there is none; both only at the beginning of a name, where a folder is put. */
int fits_name_open(fitsfile **file, const char *name, int *status, struct error *err)
{
    char path[FLEN_FILENAME];
    const int longest = FLEN_FILENAME - 8; /* it tries endings too */
    int length = snprintf(path, sizeof path, "%s%s", name[0] == '/' ? "" : "./", name);
    if (length < 0 || length > longest) {
        return error_set(err, ERROR_INPUT, "%.200s...: expected a name below %d bytes for FITS",
                         name, longest - 1);
    }
    fits_open_diskfile(file, path, READONLY, status);
    return 0;
}
